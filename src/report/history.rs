//! Records over time: the list of units, and the history of one.

use super::assessment::brief;
use super::assessment::figures::reach;
use super::document::{Block, Cell, Document, Section, Table, columns};
use super::seasons::{meaning, remark, since};
use super::timeline;
use crate::record::{Course, Doubt, Entry, Series, Step, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::figure::numbers::{DASH, decimals_for, fixed, limit, plain, reading};
use measure::judge::Verdict;
use measure::seasons::{Meant, Shape};

/// A unit in the list.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitLine {
    pub tag: String,
    /// The machine that its newest record names.
    pub machine: Option<String>,
    pub records: usize,
    /// The newest record that could be read.
    pub newest: Option<Entry>,
    pub course: Course,
    /// Files of it that could not be read.
    pub unreadable: usize,
    /// Whether one of these is newer than every record that could be: then no verdict stands.
    pub newest_unreadable: bool,
    /// A record that may be newer, by a clock that was wrong, and says another verdict: then none stands either.
    pub doubt: Option<Doubt>,
}

impl UnitLine {
    /// The verdict that stands.
    pub fn verdict(&self) -> Option<Verdict> {
        self.newest
            .as_ref()
            .filter(|_| !self.newest_unreadable && self.doubt.is_none())?
            .verdict
    }

    /// What needs doing first: what cannot be read or may have failed since, what failed, what wears, what is open.
    pub fn urgency(&self) -> impl Ord + use<> {
        let verdict = match self.verdict() {
            Some(Verdict::Fail) => 1,
            _ if self.newest_unreadable || self.doubt.is_some() => 0,
            Some(Verdict::Undecided) => 2,
            _ => 3,
        };
        (verdict, std::cmp::Reverse(self.course), self.tag.clone())
    }
}

/// A machine with its units.
#[derive(Debug, Clone, PartialEq)]
pub struct MachineUnits {
    pub name: String,
    /// Its constants and proofs, where its file is there.
    pub note: Option<String>,
    pub units: Vec<UnitLine>,
}

/// The units of each machine under its name, then those of none; without a machine one list.
pub fn units(machines: &[MachineUnits], others: &[UnitLine]) -> Document<'static> {
    if machines.is_empty() {
        return Document {
            intro: vec![Block::Table(list(others))],
            ..Document::default()
        };
    }
    let rest = (!others.is_empty()).then(|| {
        let table = Block::Table(list(others));
        Section::new("of no machine here".to_owned(), vec![table])
    });
    let sections = machines.iter().map(|machine| {
        let mut blocks = vec![Block::Table(list(&machine.units))];
        blocks.extend(machine.note.clone().map(Block::Paragraph));
        Section::new(machine.name.clone(), blocks)
    });
    let sections = sections.chain(rest);
    Document {
        sections: sections.collect(),
        ..Document::default()
    }
}

fn list(units: &[UnitLine]) -> Table {
    let rows = units.iter().map(|one| {
        let newest = one.newest.as_ref();
        let message = match (one.newest_unreadable, &one.doubt) {
            (true, _) => "UNREADABLE".into(),
            (false, Some(_)) => "CLOCK?".into(),
            (false, None) => verdict(one.verdict()),
        };
        let records = match one.unreadable {
            0 => one.records.to_string(),
            n => format!("{} +{n} unread", one.records),
        };
        vec![
            one.tag.clone().into(),
            newest
                .map_or_else(|| DASH.to_owned(), |entry| day(entry.when))
                .into(),
            message,
            one.course.word().into(),
            records.into(),
            newest
                .and_then(|entry| entry.profile.as_deref())
                .unwrap_or(DASH)
                .into(),
        ]
    });
    Table {
        columns: columns([
            "part",
            "last taken",
            "verdict",
            "going",
            ">records",
            "profile",
        ]),
        rows: rows.collect(),
        wrapped: Some(5),
        ..Table::default()
    }
}

/// A day, as RFC 3339 writes it, UTC.
fn day(when: Timestamp) -> String {
    when.strftime("%Y-%m-%d").to_string()
}

fn verdict(verdict: Option<Verdict>) -> Cell {
    verdict.map_or_else(Cell::dash, |verdict| verdict.to_string().into())
}

/// One unit's records over time. `all`: every figure, not only those that changed or head for a limit.
pub fn history(of: &UnitHistory, all: bool, now: Timestamp) -> Document<'static> {
    let n = of.entries.len();
    Document {
        title: format!(
            "{}: {n} record{}",
            brief::tag(&of.tag),
            if n == 1 { "" } else { "s" }
        ),
        intro: vec![Block::paragraph(meaning(of, now).join(" "))],
        sections: sections(of, all, now),
    }
}

impl Document<'_> {
    /// The same with the part's course over time, behind its findings.
    #[must_use]
    pub fn with_history(mut self, of: &UnitHistory, now: Timestamp) -> Self {
        let n = of.entries.len();
        let mut blocks = vec![Block::Paragraph(format!(
            "{n} record{} of {}. {}",
            if n == 1 { "" } else { "s" },
            brief::tag(&of.tag),
            meaning(of, now).join(" ")
        ))];
        for section in sections(of, false, now) {
            if !section.title.is_empty() {
                blocks.push(Block::Heading(section.title, String::new()));
            }
            blocks.extend(section.blocks);
        }
        let own = Section::new("Over time", blocks).at("over-time");
        let behind = self
            .sections
            .iter()
            .position(|section| section.id == "findings");
        let at = behind.map_or(self.sections.len(), |at| at + 1);
        self.sections.insert(at, own);
        self
    }
}

/// What follows the meaning: remarks, worn places, what changed or heads for a limit, the records.
fn sections(of: &UnitHistory, all: bool, now: Timestamp) -> Vec<Section<'static>> {
    let mut sections = Vec::new();
    if !of.remarks.is_empty() {
        let remarks = of.remarks.iter().map(remark).collect();
        sections.push(Section::untitled(vec![Block::List("! ", remarks)]));
    }
    sections.extend(worn_places(of));
    let shown = of.series.iter().filter(|series| all || matters(of, series));
    sections.extend(shown.clone().map(|series| figure(of, series, now)));
    sections.push(Section::untitled(vec![Block::Table(entries(of))]));
    let hidden = of.series.len() - shown.count();
    let mut notes = Vec::new();
    if hidden > 0 {
        notes.push(match (hidden, of.entries.len() > 1) {
            (1, true) => {
                "1 more result holds, did not change and heads for no limit: --all shows it."
                    .to_owned()
            }
            (n, true) => format!(
                "{n} more results hold, did not change and head for no limit: --all shows them."
            ),
            (n, false) => format!("--all shows {n} more that were measured."),
        });
    }
    let profile = of.entries.last().and_then(|entry| entry.profile.as_deref());
    if let Some(profile) = profile {
        notes.push(format!(
            "Limits are those that \"{profile}\" had at the last record."
        ));
    }
    notes.push(
        "+/- reaches to the ends of the 95 % interval. \"Changed\" is more than two visits differ by anyway (how much is said beside \
         it) and more than chance. A date needs three records over 90 days, and holds if wear goes on as it did."
            .to_owned(),
    );
    sections.push(Section::untitled(
        notes.into_iter().map(Block::Paragraph).collect(),
    ));
    sections
}

/// Whether a figure is shown without being asked for.
fn matters(of: &UnitHistory, series: &Series) -> bool {
    let limited = series.min.is_some() || series.max.is_some();
    let outside = limited && series.outside_since().is_some();
    series.stands_out()
        || !series.jumps.is_empty()
        || series.jumped_at.is_some()
        || of.leaves_soon(series)
        || outside
}

fn worn_places(of: &UnitHistory) -> Option<Section<'static>> {
    if of.zones.is_empty() {
        return None;
    }
    let rows = of.zones.iter().map(|story| zone(of, story)).collect();
    let mut channels: Vec<&str> = of
        .zones
        .iter()
        .map(|story| story.channel.as_str())
        .collect();
    channels.dedup();
    let pictures = channels.into_iter().filter(|_| of.entries.len() > 1);
    let pictures = pictures.map(|channel| Block::Verbatim(timeline::zones(of, channel)));
    let blocks = [Block::List("", rows)].into_iter().chain(pictures);
    Some(Section::untitled(blocks.collect()))
}

/// A table without a header: day, verdict, capture, profile.
fn entries(of: &UnitHistory) -> Table {
    let rows = of.entries.iter().map(|entry| {
        let profile = entry.profile.as_deref();
        vec![
            if entry.dated {
                day(entry.when)
            } else {
                format!("{}?", day(entry.when))
            }
            .into(),
            verdict(entry.verdict),
            entry.capture.as_deref().unwrap_or(DASH).into(),
            profile
                .map_or_else(String::new, |p| format!("checked as \"{p}\""))
                .into(),
        ]
    });
    Table {
        columns: columns([""; 4]),
        rows: rows.collect(),
        indent: 2,
        ..Table::default()
    }
}

fn zone(history: &UnitHistory, story: &ZoneStory) -> String {
    let place = |z: &measure::WornZone| {
        format!(
            "{} to {} % of travel, {} times the noise",
            fixed(z.from_pct, 0),
            fixed(z.to_pct, 0),
            fixed(z.noise_ratio, 1)
        )
    };
    let Some(worn) = story.now else {
        let last = story.seen.last();
        return last.map_or_else(String::new, |seen| {
            format!(
                "{}: worn from {} on {}: GONE at the last record. Wear does not heal: another part, or strokes too few or too fast?",
                story.channel,
                place(&seen.zone),
                day(history.entries[seen.entry].when)
            )
        });
    };
    let now = format!("{}: worn from {}", story.channel, place(&worn));
    match story.before {
        None if history.entries.len() < 2 => now,
        None => format!("{now}: NEW, no earlier record has it"),
        Some((at, was)) => {
            let word = if story.grows {
                "GROWING"
            } else {
                "not surely growing"
            };
            let wider = story.wider_pct.map_or_else(String::new, |(low, high)| {
                format!(" (wider by {} to {} %)", fixed(low, 0), fixed(high, 0))
            });
            let since = day(history.entries[at].when);
            format!("{now}: {word}, on {since} it was {}{wider}", place(&was))
        }
    }
}

fn figure(of: &UnitHistory, series: &Series, now: Timestamp) -> Section<'static> {
    let mut title = format!("{} {}", series.channel, series.figure.facts().label);
    let unit = series.figure.unit().label();
    if !unit.is_empty() {
        title = format!("{title}, {unit}");
    }
    if series.min.is_some() || series.max.is_some() {
        title = format!("{title}, allowed {}", limit(series.min, series.max));
    }
    let rows = series.points.iter().map(|point| {
        let figure = point.figure.figure();
        vec![
            day(of.entries[point.entry].when).into(),
            reading(&figure).value.into(),
            match figure.u {
                Some(_) => reach(&figure).into(),
                None => "".into(),
            },
        ]
    });
    let table = Table {
        columns: columns(["", ">", ""]),
        rows: rows.collect(),
        indent: 2,
        ..Table::default()
    };
    let left_out = (series.left_out > 0).then(|| {
        format!(
            "{} of other boards left out: their reference or bits cannot be compared",
            series.left_out
        )
    });
    let last = series
        .last_step
        .as_ref()
        .map(|step| change(step, &since(of, series, step)));
    let jumps = series.jumps.iter().map(|step| {
        let on = day(of.entries[series.points[step.at].entry].when);
        let last = step.at + 1 == series.points.len();
        let then = if last {
            "; not measured since"
        } else {
            ", and it stayed"
        };
        change(step, &format!("on {on}{then}"))
    });
    let remarks = jumps
        .chain(last)
        .chain(course(of, series, now))
        .chain(left_out)
        .collect();
    let mut blocks = vec![Block::Table(table), Block::List("", remarks)];
    let picture = timeline::figure(of, series, of.years(now));
    if !picture.is_empty() {
        blocks.push(Block::Verbatim(picture));
    }
    Section::new(title, blocks)
}

fn change(step: &Step, when: &str) -> String {
    let change = step.change;
    let decimals = decimals_for((change.high - change.low) / 4.0);
    let by = format!(
        "{} ({} to {})",
        signed(change.by, decimals),
        signed(change.low, decimals),
        signed(change.high, decimals)
    );
    let differs = match &step.differs[..] {
        [] => String::new(),
        differs => format!("; another {} than before", differs.join(" and ")),
    };
    let anyway = fixed(step.anyway, decimals_for(step.anyway));
    if step.stands_out {
        format!("CHANGED {when}: {by}; visits differ by up to {anyway} anyway{differs}")
    } else {
        format!("unchanged {when}: {by}; visits differ by up to {anyway} anyway{differs}")
    }
}

/// Where a figure goes, and when it is there.
fn course(history: &UnitHistory, series: &Series, now: Timestamp) -> Vec<String> {
    let mut message = Vec::new();
    if let Some(at) = series.jumped_at {
        let on = day(history.entries[at].when);
        message.push(format!("changed at once by {on}: another part, a knock, another board? What was before it counts for no trend"));
    }
    let Some(trend) = series.trend() else {
        return message;
    };
    let decimals = decimals_for(trend.slope_half / 2.0);
    let slope = format!(
        "trend: {} +/-{} a year",
        signed(trend.slope, decimals),
        fixed(trend.slope_half, decimals)
    );
    let bent = series
        .outlook
        .as_ref()
        .is_some_and(|outlook| outlook.shape == Shape::Faster);
    let slope = if bent {
        format!("{slope} on the whole, and it gets FASTER")
    } else {
        slope
    };
    message.push(match dated(history, series, now) {
        Some(dated) => format!("{slope}; {dated}"),
        None if bent || trend.is_sure() => slope,
        None => format!("{slope}: may be none"),
    });
    message
}

/// `reaches 0.08 about 2028-04-11 (2027-08-11 to 2029-04-04)`.
fn dated(history: &UnitHistory, series: &Series, now: Timestamp) -> Option<String> {
    let reach = series.reach?;
    let last = series.points.last()?;
    let limit = |upper| if upper { series.max } else { series.min };
    let words = |limit: Option<f64>| limit.map_or_else(String::new, plain);
    if let Some(since) = series.outside_since() {
        let above = series.max.is_some_and(|max| last.figure.value > max);
        return Some(format!(
            "outside {} since the record of {}",
            words(limit(above)),
            day(history.entries[since].when)
        ));
    }
    let limit = words(limit(series.trend()?.slope > 0.0));
    let date = |years: f64| {
        history
            .date(years)
            .filter(|date| date.as_second() < 10_000_000_000)
            .map_or_else(|| "the far future".to_owned(), day)
    };
    let interval = format!("({} to {})", date(reach.from), date(reach.to));
    let when = date(reach.time);
    if reach.time < history.years(now) {
        let on = day(history.entries[last.entry].when);
        return Some(format!(
            "would have reached {limit} about {when} {interval}: last measured {on}, {}",
            reading(&last.figure.figure()).value
        ));
    }
    Some(match reach.meant {
        Meant::About => format!("reaches {limit} about {when} {interval}"),
        Meant::AtTheLatest => {
            format!("reaches {limit} on {when} at the latest, by the last three records")
        }
    })
}

fn signed(value: f64, decimals: usize) -> String {
    let text = fixed(value, decimals);
    if text.starts_with('-') || text == DASH {
        text
    } else {
        format!("+{text}")
    }
}
