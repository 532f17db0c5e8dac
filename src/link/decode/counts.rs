//! What became of every line: the counts that travel with a capture and reach the verdict.

/// Why a line is not a sample, a header, a comment or blank. The words are a contract (DESIGN 4.1).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Cause {
    /// More than [`MAX_LINE`](super::MAX_LINE) bytes before the line end.
    TooLong,
    /// Something that is no unsigned decimal: a stray byte, an empty field, a `t_us` beyond 32 bits,
    /// a header value that cannot be read.
    NotANumber,
    /// More or fewer fields than the header announced, or a header that announces too little.
    WrongFieldCount,
    /// The two hex digits after `*` are missing or are not the XOR of the bytes before it.
    BadSum,
    /// A code beyond `2^bits - 1`.
    AboveFullScale,
    /// The board's clock ran backwards.
    TimeWentBack,
    /// Numbers, but neither a header nor the user has said yet what they mean.
    BeforeHeader,
    /// The first line of a listener that joined in the middle of it, or a last line without an end.
    Cut,
}

impl Cause {
    /// Every cause, in the order in which a line is checked.
    pub const ALL: [Self; 8] = [
        Self::TooLong,
        Self::Cut,
        Self::BadSum,
        Self::NotANumber,
        Self::BeforeHeader,
        Self::WrongFieldCount,
        Self::AboveFullScale,
        Self::TimeWentBack,
    ];

    /// The words under which captures count it.
    pub fn describe(self) -> &'static str {
        match self {
            Self::TooLong => "too long",
            Self::NotANumber => "not a number",
            Self::WrongFieldCount => "wrong field count",
            Self::BadSum => "bad sum",
            Self::AboveFullScale => "code above full scale",
            Self::TimeWentBack => "time went back",
            Self::BeforeHeader => "before header",
            Self::Cut => "cut",
        }
    }
}

impl std::fmt::Display for Cause {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.pad(self.describe())
    }
}

/// Counts since the decoder was made.
///
/// Always: `lines == samples + headers + comments + blank + rejected_total()`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Counts {
    /// Bytes received.
    pub bytes: u64,
    /// Lines received; an unterminated last one counts once [`end`](super::Decoder::end) was called.
    pub lines: u64,
    pub samples: u64,
    pub headers: u64,
    /// Other `#` lines.
    pub comments: u64,
    /// Lines with nothing but blanks.
    pub blank: u64,
    /// Samples that the board's clock says are missing between the ones received.
    pub missing: u64,
    /// Of those counted missing at first, how many the stamps behind them made up: they are not in `missing`.
    pub made_up: u64,
    /// How often the board's clock began anew (a reset or a replug).
    pub restarts: u64,
    /// How often the board's clock wrapped before 2^32 and was taken as running on.
    pub early_wraps: u64,
    rejected: [u64; Cause::ALL.len()],
}

impl Counts {
    pub fn rejected(&self, cause: Cause) -> u64 {
        self.rejected[cause as usize]
    }

    #[cfg(feature = "inside")]
    pub fn rejected_total(&self) -> u64 {
        self.rejected.iter().sum()
    }

    /// Causes that occurred, with how often, in the order of [`Cause::ALL`].
    pub fn rejected_by_cause(&self) -> impl Iterator<Item = (Cause, u64)> + '_ {
        let all = Cause::ALL.into_iter();
        all.map(|cause| (cause, self.rejected(cause)))
            .filter(|(_, n)| *n > 0)
    }

    pub(super) fn reject(&mut self, cause: Cause) {
        self.rejected[cause as usize] += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn causes_are_named_as_in_the_contract() {
        // DESIGN 4.1 names six; two are our own.
        let words: Vec<_> = Cause::ALL.iter().map(|c| c.describe()).collect();
        for contract in [
            "too long",
            "not a number",
            "wrong field count",
            "bad sum",
            "code above full scale",
            "time went back",
        ] {
            assert!(words.contains(&contract), "{contract}");
        }
        assert_eq!(words.len(), 8);
    }

    #[test]
    fn every_cause_is_counted_by_itself() {
        let mut counts = Counts::default();
        for cause in Cause::ALL {
            counts.reject(cause);
            assert_eq!(counts.rejected(cause), 1, "{cause}");
        }
        assert_eq!(counts.rejected_total(), 8);
    }
}
