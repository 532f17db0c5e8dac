//! What the records of a unit mean, before their numbers: what wears, what drifts, and until when.

use crate::record::{
    Clock, Doubt, Entry, NotCompared, Remark, Series, Step, UnitHistory, Why, ZoneStory,
};
use jiff::Timestamp;
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, plain};
use measure::judge::Verdict;
use measure::seasons::Meant;

/// A sentence for each thing that somebody should know before the next season, and the last verdict.
pub(super) fn meaning(of: &UnitHistory, now: Timestamp) -> Vec<String> {
    if of.entries.is_empty() {
        return vec!["None of its records counts, for what is said below.".to_owned()];
    }
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
        sentences.push(format!("{}.", entry.headline.trim_end_matches('.')));
    }
    if sentences.is_empty() {
        sentences.extend(if of.entries.len() < 2 {
            Some("The first record: nothing to compare it with yet.".to_owned())
        } else {
            since_before(of)
        });
    }
    sentences.extend(last.map(|entry| last_test(entry, of.doubt.is_some())));
    sentences.extend(last.and_then(|entry| other_before(of, entry)));
    sentences.splice(0..0, of.doubt.as_ref().map(no_verdict));
    sentences
}

/// How the last test ended, or the last one that counts.
fn last_test(entry: &Entry, doubted: bool) -> String {
    let day = entry.when.strftime("%Y-%m-%d");
    if doubted {
        let ended = entry.verdict.map_or("was without limits", ended);
        return format!("The last one that counts ({day}) {ended}.");
    }
    match entry.verdict {
        Some(Verdict::Pass) => format!("It passed its last test ({day})."),
        Some(Verdict::Fail) => format!("It failed its last test ({day})."),
        Some(Verdict::Undecided) => format!("Its last test ({day}) left the verdict open."),
        None => format!("Its last test ({day}) was without limits."),
    }
}

/// That the record before had another verdict.
fn other_before(of: &UnitHistory, last: &Entry) -> Option<String> {
    let [.., before, _] = &of.entries[..] else {
        return None;
    };
    let was = before.verdict?;
    let other = last.verdict.is_some_and(|is| is != was) && of.doubt.is_none();
    let day = before.when.strftime("%Y-%m-%d");
    other.then(|| match was {
        Verdict::Pass => format!("On {day} it had passed."),
        Verdict::Fail => format!("On {day} it had failed."),
        Verdict::Undecided => format!("On {day} it was left open."),
    })
}

fn ended(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Pass => "passed",
        Verdict::Fail => "failed",
        Verdict::Undecided => "left the verdict open",
    }
}

/// That another record may be the last test, and what to do.
fn no_verdict(of: &Doubt) -> String {
    let record = of.capture.as_ref().map_or_else(
        || "a record".to_owned(),
        |file| format!("the record of {file}"),
    );
    let (ended, day) = (ended(of.verdict), of.dated.strftime("%Y-%m-%d"));
    let clock = "the clock of the computer it was taken with";
    match of.clock {
        Clock::Ahead => format!(
            "No verdict stands: {record} {ended} and is set aside, for its date, {day}, has not come yet. Set {clock}, and measure again."
        ),
        Clock::AheadWhenKept => format!(
            "No verdict stands: {record} {ended} and is set aside, for its date, {day}, has not come yet. Set {clock}, measure again, and \
             take that record out of the folder."
        ),
        Clock::Behind => format!(
            "No verdict stands: {record} {ended}; it was kept last and is dated {day}. If that date is wrong, set {clock}; then measure again."
        ),
    }
}

/// What changed since the record before, what could not be compared with it; steady when neither is so, and no verdict is in doubt.
fn since_before(of: &UnitHistory) -> Option<String> {
    Some(match (changed(of), not_compared(of)) {
        (Some(changed), Some(why)) => format!("{changed} Not compared: {why}."),
        (Some(changed), None) => changed,
        (None, Some(why)) => format!("Could not be compared with the record before: {why}."),
        (None, None) if of.doubt.is_some() => return None,
        (None, None) => {
            jumped(of).unwrap_or_else(|| "Steady: no change since the record before.".to_owned())
        }
    })
}

/// What changed at once at an earlier record and stayed so, the last of those.
fn jumped(of: &UnitHistory) -> Option<String> {
    let each = of.series.iter().flat_map(|series| {
        let jumps = series.jumps.iter();
        jumps.map(move |step| (series.points[step.at].entry, series))
    });
    let all: Vec<(usize, &Series)> = each.collect();
    let (last, _) = all.iter().max_by_key(|(entry, _)| *entry)?;
    let mut then = all.iter().filter(|(entry, _)| entry == last);
    let (_, first) = then.next()?;
    let more = match then.count() {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    Some(format!(
        "No change since the record before, but on {} it changed at once, and stayed so: {} {}{more}. Another part, a knock, another hand?",
        of.entries[*last].when.strftime("%Y-%m-%d"),
        first.channel,
        first.figure.facts().label
    ))
}

/// Which ends could not be held against the record before, and why.
fn not_compared(of: &UnitHistory) -> Option<String> {
    if of.not_compared.is_empty() {
        return (!of.compared()).then(|| "no result was measured both times".to_owned());
    }
    let mut reasons: Vec<String> = Vec::new();
    for ends in of
        .not_compared
        .chunk_by(|a, b| a.channel == b.channel && a.why == b.why)
    {
        let reason = reason(ends);
        if !reasons.contains(&reason) {
            reasons.push(reason);
        }
    }
    Some(reasons.join("; "))
}

/// Of the ends of one channel, for one reason.
fn reason(ends: &[NotCompared]) -> String {
    let Some(first) = ends.first() else {
        return String::new();
    };
    let words: Vec<&str> = ends.iter().map(|one| one.end.word()).collect();
    let (end, was, is) = match words.len() {
        1 => ("end", "was", "is"),
        _ => ("ends", "were", "are"),
    };
    let which = format!("{} {} {end}", first.channel, words.join(" and "));
    match first.why {
        Why::NotMeasured => format!("{which} {was} not measured this time"),
        Why::FirstTime => format!("{which} {is} measured for the first time"),
        Why::NoInterval => format!("{which}: too little was recorded to tell"),
        Why::OtherReference { was_mv, is_mv } => format!(
            "another reference ({} mV, now {} mV)",
            plain(was_mv),
            plain(is_mv)
        ),
    }
}

/// What changed since the record before, and with what.
fn changed(of: &UnitHistory) -> Option<String> {
    let all: Vec<&Series> = of
        .series
        .iter()
        .filter(|series| series.stands_out())
        .collect();
    let first = all.first()?;
    let step = first.last_step.as_ref()?;
    let since = since(of, first, step);
    let with = match &step.differs[..] {
        [] => String::new(),
        differs => format!(", with another {}", differs.join(" and ")),
    };
    let more = match all.len() - 1 {
        0 => String::new(),
        n => format!(" and {n} more"),
    };
    Some(format!(
        "Changed {since}{with}: {} {}{more}. Another part, a knock, another hand?",
        first.channel,
        first.figure.facts().label
    ))
}

/// `since the record before`, or since which earlier one where the one before had no such result.
pub(super) fn since(of: &UnitHistory, series: &Series, step: &Step) -> String {
    let from = series.points[step.at - 1].entry;
    if from + 2 == of.entries.len() {
        "since the record before".to_owned()
    } else {
        format!("since {}", of.entries[from].when.strftime("%Y-%m-%d"))
    }
}

fn worn(of: &UnitHistory, story: &ZoneStory) -> String {
    let Some(zone) = story.last() else {
        return String::new();
    };
    let place = format!("{}-{} %", fixed(zone.from_pct, 0), fixed(zone.to_pct, 0));
    let which = if of.zones.iter().any(|other| other.channel != story.channel) {
        format!("{}: worn", story.channel)
    } else {
        "Worn".to_owned()
    };
    let since = |at: usize| of.entries[at].when.strftime("%Y").to_string();
    if story.now.is_none() {
        let at = story
            .seen
            .last()
            .map_or_else(String::new, |seen| since(seen.entry));
        return format!(
            "{which} at {place} of travel in {at}, and not seen any more: wear does not heal. Is it the same part? Measure it again, with slow \
             strokes."
        );
    }
    let (course, then) = match story.before {
        Some((at, _)) if story.grows => (
            format!(", growing since {}", since(at)),
            ": replace it this season.",
        ),
        Some((at, _)) => (
            format!(" since {}, not surely growing", since(at)),
            ": replace it before the next season.",
        ),
        None if of.entries.len() < 2 => (String::new(), ": replace it this season."),
        None => (", new this time".to_owned(), ": replace it this season."),
    };
    let then = if failed_for_it(of, &story.channel) {
        ". Do not drive with it; replace it now."
    } else {
        then
    };
    format!("{which} at {place} of travel{course}{then}")
}

/// Whether the last test failed, and worn spots of this channel were among what failed.
fn failed_for_it(of: &UnitHistory, channel: &str) -> bool {
    let Some((last, entry)) = of.entries.iter().enumerate().next_back() else {
        return false;
    };
    let fails = |series: &Series| {
        let point = series.points.last();
        series.channel == channel
            && series.figure == FigureName::WornZonesCount
            && point.is_some_and(|p| p.entry == last && !series.holds(p.figure.value))
    };
    entry.verdict == Some(Verdict::Fail) && of.series.iter().any(fails)
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
    let Some(reach) = series.reach else {
        return format!("{what}.");
    };
    if let Some(since) = series.outside_since() {
        return format!(
            "{what}; it is outside its limit since {}.",
            of.entries[since].when.strftime("%Y-%m-%d")
        );
    }
    if reach.time < of.years(now) {
        return format!("{what}; it should have reached its limit by now: measure again.");
    }
    let when = of
        .date(reach.time)
        .map_or_else(|| "some day".to_owned(), season);
    match reach.meant {
        Meant::About => {
            let early = of.date(reach.from).filter(|early| season(*early) != when);
            let early = early.map_or_else(String::new, |early| {
                if early <= now {
                    ", perhaps any day now".to_owned()
                } else {
                    format!(", perhaps as early as {}", early.strftime("%b %Y"))
                }
            });
            format!("{what}; it will reach its limit about {when}{early}.")
        }
        Meant::AtTheLatest => {
            format!("{what}, faster each time; it will reach its limit by {when} at the latest.")
        }
    }
}

/// What is to be known of the records themselves.
pub(super) fn remark(remark: &Remark) -> String {
    let day = |when: &Timestamp| when.strftime("%Y-%m-%d").to_string();
    let of = |file: &Option<String>| {
        file.as_ref().map_or_else(
            || "A record".to_owned(),
            |file| format!("The record of {file}"),
        )
    };
    match remark {
        Remark::Future { when, file } => format!(
            "{} is set aside: its date, {}, has not come yet. Set the clock of the computer it was taken with, and measure again.",
            of(file),
            day(when)
        ),
        Remark::Undated {
            taken: Some(taken),
            kept,
            file,
        } => format!(
            "{} says it was taken {taken}, which cannot be: it stands where it was kept, {}, and counts for no trend.",
            of(file),
            day(kept)
        ),
        Remark::Undated {
            taken: None,
            kept,
            file,
        } => format!(
            "{} has no date: it stands where it was kept, {}, and counts for no trend.",
            of(file),
            day(kept)
        ),
        Remark::Copies { records, file } => {
            format!(
                "{} is there {records} times, the same recording each time: counted once, as last assessed.",
                of(file)
            )
        }
        Remark::Profiles { profiles, file } => format!(
            "{} was checked as \"{}\": one recording, counted once, as last assessed.",
            of(file),
            profiles.join("\" and as \"")
        ),
        Remark::Spelled { tags } => format!(
            "The tag is written in {} ways, taken for one part: \"{}\". Are they two parts? Then give them tags that differ by more than blanks and \
             capitals.",
            tags.len(),
            tags.join("\", \"")
        ),
        Remark::OtherReference {
            records,
            was_mv,
            is_mv,
        } => format!(
            "{records} record{} of a board with another reference ({} mV, now {} mV): ends and results in codes are left out there, for nobody knows what \
             the part was supplied with.",
            if *records == 1 { " is" } else { "s are" },
            plain(*was_mv),
            plain(*is_mv)
        ),
        Remark::Renamed { channels } => {
            let each: Vec<String> = channels
                .iter()
                .map(|(was, is)| format!("`{was}` is called `{is}` now"))
                .collect();
            format!("{}: taken for the same track.", each.join(", "))
        }
        Remark::Edited {
            profile,
            since,
            figures,
        } => format!(
            "\"{profile}\" was edited since {}: other limits now for {}. All records are checked against the limits of the last one.",
            day(since),
            figures.join(", ")
        ),
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
