//! A file of something else, looked at and taken for the screen with what the person typed.

use crate::bench::Recorded;
use crate::cli::imported;
use crate::import::{
    self, Asked, Asks, ChannelColumn, Imported, SamplesError, Source, TimeColumn, listed,
};
use crate::outlet::Shown;
use crate::tui::{FileAnswers, FileRead, FileRow};
use anyhow::{Context, anyhow};
use measure::figure::numbers::fixed;
use measure::units::{Scale, ScaleError};
use std::path::Path;

/// Why it is not taken: which answer would help, and what is asked.
type Question = (Option<FileRow>, String);

/// What it holds, and whether the answers do.
pub(super) fn look(answers: &FileAnswers) -> anyhow::Result<FileRead> {
    let source = read(answers)?;
    let rows = source.sheet.rows;
    let answer = samples(&source, answers).map(|(samples, scale)| understood(samples, scale));
    let columns = listed(&source.sheet);
    // Columns that the question names are not listed again below it.
    let said = matches!(&answer, Err((_, question)) if question.contains(&columns));
    Ok(FileRead {
        holds: if said {
            format!("It has {rows} rows.")
        } else {
            format!("It has {rows} rows and {columns}.")
        },
        answer,
    })
}

/// The recording, as the answers have it.
pub(super) fn recorded(answers: &FileAnswers, tag: Option<String>) -> anyhow::Result<Recorded> {
    let source = read(answers)?;
    let (samples, scale) = samples(&source, answers).map_err(|(_, why)| anyhow!("{why}"))?;
    let file = Path::new(&answers.file);
    Ok(imported::recorded(samples, file, source.sha256, scale, tag))
}

fn read(answers: &FileAnswers) -> anyhow::Result<Source> {
    if answers.file.is_empty() {
        return Err(anyhow!("Type the file's name."));
    }
    let file = Path::new(&answers.file);
    import::read(file).with_context(|| file.shown().into_owned())
}

fn understood(samples: Imported, scale: Scale) -> Vec<String> {
    let lasts_s = samples.t_us.last().map_or(0, |last| last / 1_000_000);
    let mut words = vec![format!(
        "{} samples, {} a second, {lasts_s} s, as a board of {} bits and {} mV would read them",
        samples.t_us.len(),
        fixed(samples.rate_hz, 0),
        scale.bits(),
        fixed(scale.vref_mv(), 0),
    )];
    words.extend(samples.notes);
    if samples.left_out > 0 {
        words.push(format!("{} lines without a sample", samples.left_out));
    }
    words
}

fn samples(source: &Source, answers: &FileAnswers) -> Result<(Imported, Scale), Question> {
    let asked = asked(answers)?;
    let scale = scale(answers)?;
    let samples = import::samples(&source.sheet, &asked, scale).map_err(|why| question(&why))?;
    Ok((samples, scale))
}

fn scale(answers: &FileAnswers) -> Result<Scale, Question> {
    let ask = |row, words: &str| (Some(row), words.to_owned());
    let bits = answers.bits.parse().map_err(|_| {
        let words = "How many bits has the ADC of the board that this part is for? 10 on many boards of 5 V, 12 on many of 3.3 V.";
        ask(FileRow::Bits, words)
    })?;
    let vref_mv = answers.vref_mv.replace(',', ".").parse().map_err(|_| {
        let words = "What is full scale of that ADC, in mV? 5000 where the board runs on 5 V, 3300 on 3.3 V.";
        ask(FileRow::Vref, words)
    })?;
    Scale::new(bits, vref_mv).map_err(|e| {
        let row = match e {
            ScaleError::Bits(_) => FileRow::Bits,
            ScaleError::Reference(_) => FileRow::Vref,
        };
        (Some(row), format!("The board: {e}"))
    })
}

fn asked(answers: &FileAnswers) -> Result<Asked, Question> {
    let at = |row| move |words: String| (Some(row), words);
    let given = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
    let signals = answers.signals.split(',').map(str::trim);
    let signal = |text: &str| {
        if text.contains('=') {
            imported::signal(text)
        } else {
            Ok(ChannelColumn {
                channel: None,
                column: text.to_owned(),
            })
        }
    };
    let signals: Vec<ChannelColumn> = signals
        .filter(|text| !text.is_empty())
        .map(signal)
        .collect::<Result<_, _>>()
        .map_err(at(FileRow::Signals))?;
    if let Some(twice) = imported::twice(&signals) {
        return Err((
            Some(FileRow::Signals),
            format!("`{twice}` stands there twice."),
        ));
    }
    Ok(Asked {
        time: time(&answers.time).map_err(at(FileRow::Time))?,
        time_unit: given(&answers.time_unit)
            .map(|text| text.parse())
            .transpose()
            .map_err(at(FileRow::TimeUnit))?,
        signals,
        unit: given(&answers.unit)
            .map(|text| text.parse())
            .transpose()
            .map_err(at(FileRow::Unit))?,
    })
}

/// A column, or `250 Hz` where there is none.
fn time(text: &str) -> Result<TimeColumn, String> {
    if text.is_empty() {
        return Ok(TimeColumn::Guessed);
    }
    let hz = text.get(text.len().saturating_sub(2)..);
    match hz.filter(|end| end.eq_ignore_ascii_case("hz")) {
        Some(_) => imported::rate_hz(text[..text.len() - 2].trim()).map(TimeColumn::Rate),
        None => Ok(TimeColumn::Named(text.to_owned())),
    }
}

fn question(why: &SamplesError) -> Question {
    let (row, more) = match why.asks() {
        Some(Asks::Time) => (
            FileRow::Time,
            "Type the column's heading or number; if there is none, how many samples a second: 250 Hz.",
        ),
        Some(Asks::TimeUnit) => (FileRow::TimeUnit, "Type s, ms or us."),
        Some(Asks::Signals) => (
            FileRow::Signals,
            "Type headings or numbers, with commas between.",
        ),
        Some(Asks::Unit) => (FileRow::Unit, "Type V, mV or code."),
        Some(Asks::UnitOfHeading) => (FileRow::Unit, "Leave it empty, or correct the heading."),
        Some(Asks::Board) => (FileRow::Vref, "Type it again, or the unit below."),
        None => return (None, format!("Sorry, {why}.")),
    };
    let why = why.to_string();
    let mut letters = why.chars();
    let why: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .chain(letters)
        .collect();
    let end = if why.ends_with('?') { "" } else { "." };
    (Some(row), format!("{why}{end} {more}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fmt::Write as _;

    fn asked(answer: &Result<Vec<String>, Question>) -> Option<FileRow> {
        answer.as_ref().err().and_then(|(row, _)| *row)
    }

    /// Each question is about its row, and with all answers the file is understood as the board would have read it.
    #[test]
    fn a_file_that_says_little_is_asked_about_row_by_row() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("log.txt");
        let mut text = String::new();
        for k in 0..1000 {
            writeln!(text, "{};{}", 160 + k % 3, 80 + k % 3).unwrap();
        }
        std::fs::write(&file, text).unwrap();
        let mut answers = FileAnswers {
            file: file.to_string_lossy().into_owned(),
            ..FileAnswers::default()
        };
        let mut then = |set: fn(&mut FileAnswers)| {
            set(&mut answers);
            let read = look(&answers).unwrap();
            assert!(read.holds.contains("1000 rows"), "{}", read.holds);
            read.answer
        };
        assert_eq!(asked(&then(|_| ())), Some(FileRow::Bits));
        assert_eq!(asked(&then(|a| a.bits = "10".into())), Some(FileRow::Vref));
        let no_time = then(|a| a.vref_mv = "5000".into());
        assert_eq!(asked(&no_time), Some(FileRow::Time));
        let question = no_time.unwrap_err().1;
        assert!(
            !question.contains("--"),
            "no option on the screen: {question}"
        );
        assert_eq!(asked(&then(|a| a.time = "3".into())), Some(FileRow::Time));
        assert_eq!(
            asked(&then(|a| a.time = "250 Hz".into())),
            Some(FileRow::Unit)
        );
        assert_eq!(asked(&then(|a| a.unit = "A".into())), Some(FileRow::Unit));
        assert_eq!(
            asked(&then(|a| a.signals = "1, 7".into())),
            Some(FileRow::Unit)
        );
        assert_eq!(
            asked(&then(|a| a.unit = "code".into())),
            Some(FileRow::Signals)
        );
        let message = then(|a| a.signals = "pedal_a=1, 2".into()).unwrap();
        assert!(
            message[0].starts_with("1000 samples, 250 a second, 3 s"),
            "{message:?}"
        );
        let taken = recorded(&answers, Some("T1".to_owned())).unwrap();
        assert_eq!(taken.channels, ["pedal_a", "signal_2"]);
        assert_eq!(taken.codes[1][2].0, 82);
    }

    #[test]
    fn what_is_no_table_says_so_and_what_to_do() {
        let dir = tempfile::tempdir().unwrap();
        let file = dir.path().join("letter.txt");
        std::fs::write(&file, "dear all,\nplease find attached\n").unwrap();
        let answers = |file: &Path| FileAnswers {
            file: file.to_string_lossy().into_owned(),
            ..FileAnswers::default()
        };
        let why = format!("{:#}", look(&answers(&file)).unwrap_err());
        assert!(
            why.contains("letter.txt: ") && why.contains("Save it as CSV"),
            "{why}"
        );
        let why = format!(
            "{:#}",
            look(&answers(&dir.path().join("x.csv"))).unwrap_err()
        );
        assert!(why.contains("x.csv: cannot read it"), "{why}");
        assert!(look(&FileAnswers::default()).is_err());
    }
}
