//! What the records of a unit mean, before their numbers: what wears, what drifts, and until when.

use crate::record::{Series, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::Verdict;

/// A sentence for each thing that somebody should know before the next season.
pub(super) fn meaning(of: &UnitHistory, now: Timestamp) -> Vec<String> {
    let mut sentences: Vec<String> = of.zones.iter().map(|story| worn(of, story)).collect();
    let leaving = of.series.iter().filter(|series| of.leaves_soon(series));
    let drifting = leaving.filter(|series| same_end_first(of, series));
    sentences.extend(drifting.map(|series| drifts(of, series, now)));
    let last = of.entries.last();
    let refused = last.filter(|entry| entry.verdict == Some(Verdict::Fail));
    if sentences.is_empty()
        && let Some(entry) = refused
        && !entry.headline.is_empty()
    {
        sentences.push(entry.headline.clone());
    }
    if sentences.is_empty() {
        sentences.push(
            match (of.entries.len(), of.series.iter().any(|s| s.stands_out)) {
                (0 | 1, _) => "The first record: nothing to compare it with yet.",
                (_, true) => "Something changed since the record before: see below.",
                (_, false) => "Steady: no change since the record before.",
            }
            .to_owned(),
        );
    }
    sentences
}

fn worn(of: &UnitHistory, story: &ZoneStory) -> String {
    let place = format!(
        "{}-{} %",
        fixed(story.now.from_pct, 0),
        fixed(story.now.to_pct, 0)
    );
    let which = if of.zones.iter().any(|other| other.channel != story.channel) {
        format!("{}: worn", story.channel)
    } else {
        "Worn".to_owned()
    };
    let since = |at: usize| of.entries[at].when.strftime("%Y").to_string();
    match story.before {
        Some((at, _)) if story.grows => format!(
            "{which} at {place} of travel, growing since {}: replace it this season.",
            since(at)
        ),
        Some((at, _)) => format!(
            "{which} at {place} of travel since {}, not growing: replace it before the next season.",
            since(at)
        ),
        None if of.entries.len() < 2 => {
            format!("{which} at {place} of travel: replace it this season.")
        }
        None => format!("{which} at {place} of travel, new this time: replace it this season."),
    }
}

/// Whether no other figure says the same of the same end: code and ratio go together.
fn same_end_first(of: &UnitHistory, series: &Series) -> bool {
    let twin = match series.figure {
        FigureName::RestRatio => FigureName::RestCode,
        FigureName::FullRatio => FigureName::FullCode,
        _ => return true,
    };
    let mut others = of.series.iter();
    !others.any(|s| s.channel == series.channel && s.figure == twin && of.leaves_soon(s))
}

fn drifts(of: &UnitHistory, series: &Series, now: Timestamp) -> String {
    let what = match series.figure {
        FigureName::RestRatio | FigureName::RestCode => "Rest creeps".to_owned(),
        FigureName::FullRatio | FigureName::FullCode => "The full end creeps".to_owned(),
        figure => format!("{} {} drifts", series.channel, figure.facts().label),
    };
    let crossing = series.crossing.map(|crossing| crossing.time);
    match crossing {
        Some(years) if years < of.years(now) => {
            format!("{what}; it should have reached its limit by now: measure again.")
        }
        Some(years) => {
            let when = of.date(years).map_or_else(|| "some day".to_owned(), season);
            format!("{what}; it will reach its limit about {when}.")
        }
        None => format!("{what}."),
    }
}

/// `spring 2028`.
fn season(when: Timestamp) -> String {
    let season = match when.strftime("%m").to_string().as_str() {
        "03" | "04" | "05" => "spring",
        "06" | "07" | "08" => "summer",
        "09" | "10" | "11" => "autumn",
        _ => "winter",
    };
    format!("{season} {}", when.strftime("%Y"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_day_is_in_its_season() {
        let season = |day: &str| season(format!("{day}T12:00:00Z").parse().unwrap());
        assert_eq!(season("2028-04-11"), "spring 2028");
        assert_eq!(season("2027-12-31"), "winter 2027");
        assert_eq!(season("2027-09-01"), "autumn 2027");
    }
}
