//! What records say, for programs: `units/1` of all units, `history/1` of one.

use super::history::UnitLine;
use super::seasons::{meaning, remark};
use crate::record::{Doubt, Entry, NotCompared, Remark, Series, Step, UnitHistory, ZoneStory};
use jiff::Timestamp;
use measure::WornZone;
use measure::judge::Verdict;
use measure::seasons::{Meant, Reach, Shape};
use schemars::JsonSchema;
use serde::Serialize;

/// All units, what needs doing first.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "units/1")]
pub struct UnitsJson<'a> {
    #[schemars(extend("const" = "units/1"))]
    format: &'static str,
    units: Vec<UnitJson<'a>>,
}

#[derive(Serialize, JsonSchema)]
struct UnitJson<'a> {
    tag: &'a str,
    /// The machine that its newest record names.
    machine: Option<&'a str>,
    /// How many could be read.
    records: usize,
    /// Files of it that could not be.
    unreadable: usize,
    /// How its results go from record to record.
    course: &'static str,
    newest: NewestJson<'a>,
    doubt: Option<DoubtJson<'a>>,
}

/// A record that may be the last test, by a clock that was wrong, and says another verdict: then none stands.
#[derive(Serialize, JsonSchema)]
struct DoubtJson<'a> {
    capture: Option<&'a str>,
    /// What it says of its date.
    #[schemars(with = "String")]
    dated: Timestamp,
    verdict: Verdict,
    /// `clock ahead` (set aside) or `clock behind` (kept last, dated earlier).
    why: &'static str,
}

fn doubt(of: &Doubt) -> DoubtJson<'_> {
    DoubtJson {
        capture: of.capture.as_deref(),
        dated: of.dated,
        verdict: of.verdict,
        why: of.clock.word(),
    }
}

/// The newest record that could be read.
#[derive(Serialize, JsonSchema)]
struct NewestJson<'a> {
    #[schemars(with = "Option<String>")]
    taken: Option<Timestamp>,
    /// The one that stands: null when a newer record cannot be read, and where there is a doubt.
    verdict: Option<Verdict>,
    profile: Option<&'a str>,
    /// Whether no newer one is unreadable.
    readable: bool,
}

/// The list of units.
pub fn units_json(units: &[UnitLine]) -> UnitsJson<'_> {
    UnitsJson {
        format: "units/1",
        units: units.iter().map(unit).collect(),
    }
}

fn unit(unit: &UnitLine) -> UnitJson<'_> {
    let newest = unit.newest.as_ref();
    UnitJson {
        tag: &unit.tag,
        machine: unit.machine.as_deref(),
        records: unit.records,
        unreadable: unit.unreadable,
        course: unit.course.word(),
        newest: NewestJson {
            taken: newest.map(|e| e.when),
            verdict: unit.verdict(),
            profile: newest.and_then(|e| e.profile.as_deref()),
            readable: !unit.newest_unreadable,
        },
        doubt: unit.doubt.as_ref().map(doubt),
    }
}

/// What the records of a unit say, as of a moment.
#[derive(Serialize, JsonSchema)]
#[schemars(title = "history/1")]
pub struct HistoryJson<'a> {
    #[schemars(extend("const" = "history/1"))]
    format: &'static str,
    tag: &'a str,
    /// What it means, in sentences.
    meaning: String,
    course: &'static str,
    remarks: Vec<RemarkJson>,
    /// Why no verdict stands.
    doubt: Option<DoubtJson<'a>>,
    /// Ends that could not be held against the record before.
    not_compared: Vec<NotComparedJson<'a>>,
    /// The oldest first.
    records: Vec<RecordJson<'a>>,
    series: Vec<SeriesJson<'a>>,
    worn_zones: Vec<ZoneJson<'a>>,
}

#[derive(Serialize, JsonSchema)]
struct NotComparedJson<'a> {
    channel: &'a str,
    /// `rest` or `full`.
    end: &'static str,
    /// `not measured` (this time), `first time`, `other reference` or `no interval`.
    why: &'static str,
}

/// What was set right, or left out, on the way.
#[derive(Serialize, JsonSchema)]
struct RemarkJson {
    kind: &'static str,
    text: String,
}

#[derive(Serialize, JsonSchema)]
struct RecordJson<'a> {
    #[schemars(with = "String")]
    taken: Timestamp,
    /// Whether it says itself when it was taken; else `taken` is when it was kept.
    dated: bool,
    verdict: Option<Verdict>,
    profile: Option<&'a str>,
    capture: Option<&'a str>,
    bits: u32,
}

/// One figure over time.
#[derive(Serialize, JsonSchema)]
struct SeriesJson<'a> {
    channel: &'a str,
    figure: &'static str,
    unit: &'static str,
    /// Its limit at the last record.
    min: Option<f64>,
    max: Option<f64>,
    points: Vec<PointJson>,
    /// Values whose boards cannot be compared.
    left_out: usize,
    /// From the last value but one to the last record's; null when the last record has none.
    change: Option<StepJson<'a>>,
    /// Earlier changes that stand out and stayed.
    jumps: Vec<StepJson<'a>>,
    /// When it was measured last; null when the last record has it.
    #[schemars(with = "Option<String>")]
    not_measured_since: Option<Timestamp>,
    /// `straight`, `faster` or `jumped`.
    shape: Option<&'static str>,
    #[schemars(with = "Option<String>")]
    jumped_at: Option<Timestamp>,
    trend: Option<TrendJson>,
    #[schemars(with = "Option<String>")]
    outside_since: Option<Timestamp>,
    reaches_limit: Option<ReachJson>,
}

#[derive(Serialize, JsonSchema)]
struct PointJson {
    #[schemars(with = "String")]
    taken: Timestamp,
    value: f64,
    u: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    n: u64,
}

#[derive(Serialize, JsonSchema)]
struct StepJson<'a> {
    #[schemars(with = "String")]
    taken: Timestamp,
    by: f64,
    low: f64,
    high: f64,
    /// Of so much beyond what visits differ by anyway.
    chance: f64,
    stands_out: bool,
    visits_differ_by: f64,
    /// What was another at the later visit.
    differs: &'a [&'static str],
}

/// A line through the values.
#[derive(Serialize, JsonSchema)]
struct TrendJson {
    per_year: f64,
    low: f64,
    high: f64,
    scatter: f64,
    n: usize,
}

#[derive(Serialize, JsonSchema)]
struct ReachJson {
    /// Days; absent where none can be told.
    at: Option<String>,
    from: Option<String>,
    to: Option<String>,
    /// `about` or `at the latest`.
    meant: &'static str,
    past: bool,
}

#[derive(Serialize, JsonSchema)]
struct ZoneJson<'a> {
    channel: &'a str,
    now: Option<WornZone>,
    /// As it was seen first.
    before: Option<SeenJson>,
    grows: bool,
    vanished: bool,
    wider_pct: Option<Wider>,
    seen: Vec<SeenJson>,
}

/// By how many percent of travel, 95 % interval.
#[derive(Serialize, JsonSchema)]
struct Wider {
    low: f64,
    high: f64,
}

#[derive(Serialize, JsonSchema)]
struct SeenJson {
    #[schemars(with = "String")]
    taken: Timestamp,
    zone: WornZone,
}

/// The whole history as of `now`.
pub fn history_json(of: &UnitHistory, now: Timestamp) -> HistoryJson<'_> {
    let said = |r: &Remark| RemarkJson {
        kind: kind(r),
        text: remark(r),
    };
    HistoryJson {
        format: "history/1",
        tag: &of.tag,
        meaning: meaning(of, now).join(" "),
        course: of.course().word(),
        remarks: of.remarks.iter().map(said).collect(),
        doubt: of.doubt.as_ref().map(doubt),
        not_compared: of.not_compared.iter().map(not_compared).collect(),
        records: of.entries.iter().map(record).collect(),
        series: of.series.iter().map(|s| one(of, s, now)).collect(),
        worn_zones: of.zones.iter().map(|z| zone(of, z)).collect(),
    }
}

fn not_compared(of: &NotCompared) -> NotComparedJson<'_> {
    NotComparedJson {
        channel: &of.channel,
        end: of.end.word(),
        why: of.why.word(),
    }
}

fn record(e: &Entry) -> RecordJson<'_> {
    RecordJson {
        taken: e.when,
        dated: e.dated,
        verdict: e.verdict,
        profile: e.profile.as_deref(),
        capture: e.capture.as_deref(),
        bits: e.bits,
    }
}

fn one<'a>(of: &UnitHistory, s: &'a Series, now: Timestamp) -> SeriesJson<'a> {
    let taken = |at: usize| of.entries[at].when;
    let points = s.points.iter().map(|p| PointJson {
        taken: taken(p.entry),
        value: p.figure.value,
        u: p.figure.u,
        low: p.figure.low,
        high: p.figure.high,
        n: p.figure.n,
    });
    let step = |step: &'a Step| StepJson {
        taken: taken(s.points[step.at].entry),
        by: step.change.by,
        low: step.change.low,
        high: step.change.high,
        chance: step.chance,
        stands_out: step.stands_out,
        visits_differ_by: step.anyway,
        differs: &step.differs,
    };
    let shape = s.outlook.as_ref().map(|outlook| match outlook.shape {
        Shape::Straight => "straight",
        Shape::Faster => "faster",
        Shape::Jumped { .. } => "jumped",
    });
    SeriesJson {
        channel: &s.channel,
        figure: s.figure.word(),
        unit: s.figure.unit().word(),
        min: s.min,
        max: s.max,
        points: points.collect(),
        left_out: s.left_out,
        change: s.last_step.as_ref().map(step),
        jumps: s.jumps.iter().map(step).collect(),
        not_measured_since: s.not_measured_since.map(taken),
        shape,
        jumped_at: s.jumped_at.map(taken),
        trend: s.trend().map(|t| TrendJson {
            per_year: t.slope,
            low: t.slope - t.slope_half,
            high: t.slope + t.slope_half,
            scatter: t.scatter,
            n: t.n,
        }),
        outside_since: s.outside_since().map(taken),
        reaches_limit: s.reach.map(|r| reach(of, r, now)),
    }
}

fn reach(of: &UnitHistory, r: Reach, now: Timestamp) -> ReachJson {
    let date = |years: f64| of.date(years).map(|date| date.to_string());
    ReachJson {
        at: date(r.time),
        from: date(r.from),
        to: date(r.to),
        meant: match r.meant {
            Meant::About => "about",
            Meant::AtTheLatest => "at the latest",
        },
        past: r.time < of.years(now),
    }
}

fn zone<'a>(of: &UnitHistory, z: &'a ZoneStory) -> ZoneJson<'a> {
    let seen = |at: usize, zone: WornZone| SeenJson {
        taken: of.entries[at].when,
        zone,
    };
    ZoneJson {
        channel: &z.channel,
        now: z.now,
        before: z.before.map(|(at, zone)| seen(at, zone)),
        grows: z.grows,
        vanished: z.now.is_none(),
        wider_pct: z.wider_pct.map(|(low, high)| Wider { low, high }),
        seen: z.seen.iter().map(|s| seen(s.entry, s.zone)).collect(),
    }
}

fn kind(remark: &Remark) -> &'static str {
    match remark {
        Remark::Future { .. } => "future",
        Remark::Undated { .. } => "undated",
        Remark::Copies { .. } => "copies",
        Remark::Profiles { .. } => "profiles",
        Remark::Spelled { .. } => "spelled",
        Remark::OtherReference { .. } => "other reference",
        Remark::Renamed { .. } => "renamed",
        Remark::Edited { .. } => "profile edited",
    }
}
