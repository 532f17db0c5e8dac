//! One figure over time: its values in one scale, what changed, where it leads.

use super::kept::{BoardKept, FigureKept};
use super::visits::{Entry, Visit};
use measure::figure::{FigureName, Mark, Unit};
use measure::seasons::{
    Change, Estimate, Outlook, Reach, Shape, Trend, chance_beyond, change, outlook, own_difference,
    stand_out, usual_difference,
};
use std::collections::BTreeMap;

/// No date is told from records that span less than 90 days, in years: a season of few months shows the weather and not the wear
/// (common practice, no source).
const SHORTEST_YEARS: f64 = 90.0 / 365.25;

/// References that differ by more than so much do not read the same share of the same voltage.
const ALIKE: f64 = 0.01;

/// One figure at one record.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    pub entry: usize,
    /// In the scale of the last record's board.
    pub figure: FigureKept,
}

/// What changed from one record to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// The later one's place among the points.
    pub at: usize,
    pub change: Change,
    /// What the two visits may differ by though nothing changed.
    pub anyway: f64,
    /// Chance of so much beyond that.
    pub chance: f64,
    pub stands_out: bool,
    /// What was another at the later visit: board, reference, bits.
    pub differs: Vec<&'static str>,
}

/// One figure over time.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// The channel, or `a/b` for a pair of tracks.
    pub channel: String,
    pub figure: FigureName,
    /// Lower side of its limit at the last record.
    pub min: Option<f64>,
    /// Upper side.
    pub max: Option<f64>,
    /// Its values, oldest first, in codes of the last record's board.
    pub points: Vec<Point>,
    /// Values that were left out, for their boards cannot be compared.
    pub left_out: usize,
    /// From the last value but one to the last record's; `None` when the last record has none, and when either is counted, has an
    /// open end, or describes the sample alone (`return_range`).
    pub last_step: Option<Step>,
    /// Earlier changes that stand out and stayed.
    pub jumps: Vec<Step>,
    /// The last record that has a value, where it is not the newest.
    pub not_measured_since: Option<usize>,
    /// The first record after the jump that the shape of the whole course has, if it has one.
    pub jumped_at: Option<usize>,
    /// What the course looks like, and where it leads.
    pub outlook: Option<Outlook>,
    /// When it reaches the limit it is heading for: times in years from the first record.
    pub reach: Option<Reach>,
}

impl Series {
    pub fn stands_out(&self) -> bool {
        self.last_step.as_ref().is_some_and(|step| step.stands_out)
    }

    /// The line through all values, or through those after a jump.
    pub fn trend(&self) -> Option<Trend> {
        self.outlook.as_ref()?.trend
    }

    /// Whether a value lies inside the limit.
    pub fn holds(&self, value: f64) -> bool {
        self.min.is_none_or(|min| value >= min) && self.max.is_none_or(|max| value <= max)
    }

    /// The first record of those up to the last in which the value lay outside its limit.
    pub fn outside_since(&self) -> Option<usize> {
        let outside = self
            .points
            .iter()
            .rev()
            .take_while(|p| !self.holds(p.figure.value));
        outside.last().map(|p| p.entry)
    }
}

/// Every figure of every channel over time.
pub(super) fn series(visits: &[Visit], entries: &[Entry]) -> Vec<Series> {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in visits
        .iter()
        .flat_map(|visit| visit.record.assessment.parts())
    {
        if !names.contains(&name) {
            names.push(name);
        }
    }
    let mut all = Vec::new();
    let mut steps = Vec::new();
    for channel in names {
        for &figure in FigureName::ALL {
            if let Some(series) = one(visits, entries, channel, figure) {
                steps.push(steps_of(&series, visits));
                all.push(series);
            }
        }
    }
    mark(&all, &mut steps);
    for (series, steps) in all.iter_mut().zip(steps) {
        split_steps(series, steps);
    }
    all
}

/// What a value of one board is multiplied with to be one of another; `None` when the two cannot be compared.
fn scale(figure: FigureName, from: &BoardKept, to: &BoardKept) -> Option<f64> {
    let unit = figure.unit();
    let level = unit == Unit::Number && figure.possible() == (0.0, 1.0);
    let in_codes = matches!(unit, Unit::Code | Unit::CodePerMinute);
    let alike = same_reference(from, to);
    if (unit == Unit::Bit && from.bits != to.bits) || (!alike && (level || in_codes)) {
        return None;
    }
    Some(unit.scale_between(from.bits, to.bits))
}

pub(super) fn same_reference(a: &BoardKept, b: &BoardKept) -> bool {
    (a.vref_mv - b.vref_mv).abs() <= ALIKE * a.vref_mv.abs().max(b.vref_mv.abs())
}

/// A figure of a channel over time; `None` when no record has it.
fn one(visits: &[Visit], entries: &[Entry], channel: &str, figure: FigureName) -> Option<Series> {
    let last = &visits.last()?.record;
    let mut left_out = 0;
    let mut points = Vec::new();
    for (entry, visit) in visits.iter().enumerate() {
        let mut parts = visit.record.assessment.parts();
        let Some(kept) = parts
            .find(|(name, _)| *name == channel)
            .and_then(|(_, figures)| figures.get(figure.word())?.as_ref())
        else {
            continue;
        };
        match scale(figure, &visit.record.board, &last.board) {
            Some(factor) => points.push(Point {
                entry,
                figure: kept.scaled(factor),
            }),
            None => left_out += 1,
        }
    }
    if points.is_empty() {
        return None;
    }
    let limit = last
        .assessment
        .findings
        .iter()
        .find(|f| f.channel == channel && f.figure == figure);
    let (min, max) = limit.map_or((None, None), |f| (f.min, f.max));
    let of_unit = !figure.is(Mark::OfSample);
    let dated = points.iter().filter(|p| entries[p.entry].dated);
    let dated =
        dated.filter_map(|p| Some((p.entry, (entries[p.entry].years, p.figure.estimate()?))));
    let (at, dated): (Vec<usize>, Vec<(f64, Estimate)>) = dated.unzip();
    let outlook = of_unit.then(|| outlook(&dated, SHORTEST_YEARS));
    let jumped_at = outlook.as_ref().and_then(|outlook| match outlook.shape {
        Shape::Jumped { at: first, .. } => at.get(first).copied(),
        _ => None,
    });
    Some(Series {
        channel: channel.to_owned(),
        figure,
        min,
        max,
        left_out,
        last_step: None,
        jumps: Vec::new(),
        not_measured_since: points
            .last()
            .map(|point| point.entry)
            .filter(|entry| entry + 1 < entries.len()),
        jumped_at,
        reach: outlook
            .as_ref()
            .and_then(|outlook| outlook.reaches(min, max)),
        outlook,
        points,
    })
}

/// The changes from each value to the next, not yet looked at together.
fn steps_of(series: &Series, visits: &[Visit]) -> Vec<Step> {
    if series.figure.is(Mark::OfSample) {
        return Vec::new();
    }
    let bits = visits.last().map_or(10, |visit| visit.record.board.bits);
    let pairs = series.points.windows(2).enumerate();
    let step = |(before, pair): (usize, &[Point])| {
        let change = change(pair[0].figure.estimate()?, pair[1].figure.estimate()?);
        let [was, now] = [0, 1].map(|at| &visits[pair[at].entry].record);
        let mut differs = differs(&was.board, &now.board);
        let other_board = !differs.is_empty();
        if was.assessment.unit.profile != now.assessment.unit.profile {
            differs.push("profile");
        }
        let anyway = usual_difference(series.figure, pair[0].figure.value, bits, other_board);
        Some(Step {
            at: before + 1,
            chance: chance_beyond(&change, anyway),
            change,
            anyway,
            stands_out: false,
            differs,
        })
    };
    pairs.filter_map(step).collect()
}

fn differs(was: &BoardKept, now: &BoardKept) -> Vec<&'static str> {
    let mut words = Vec::new();
    let mut tell = |is: bool, word| {
        if is {
            words.push(word);
        }
    };
    tell(was.name != now.name, "board");
    tell((was.vref_mv - now.vref_mv).abs() > 0.0, "reference");
    tell(was.bits != now.bits, "bits");
    words
}

/// Marks what stands out among the figures of one visit, and beyond what this part's visits differ by otherwise.
fn mark(all: &[Series], steps: &mut [Vec<Step>]) {
    let mut of_visit: BTreeMap<usize, Vec<(usize, usize)>> = BTreeMap::new();
    for (of, (series, own)) in all.iter().zip(steps.iter()).enumerate() {
        for (at, step) in own.iter().enumerate() {
            of_visit
                .entry(series.points[step.at].entry)
                .or_default()
                .push((of, at));
        }
    }
    for places in of_visit.into_values() {
        let chances: Vec<f64> = places
            .iter()
            .map(|(of, at)| steps[*of][*at].chance)
            .collect();
        for ((of, at), marked) in places.into_iter().zip(stand_out(&chances)) {
            let others = &steps[of];
            let before: Vec<f64> = others[..at].iter().map(|step| step.change.by).collect();
            let own = own_difference(&before, steps[of][at].anyway).unwrap_or(0.0);
            let step = &mut steps[of][at];
            step.anyway = step.anyway.max(own);
            step.stands_out = marked && step.change.by.abs() > own;
        }
    }
}

/// Puts the last step where it is asked for, and keeps of the earlier ones those that stayed.
fn split_steps(series: &mut Series, mut steps: Vec<Step>) {
    let last = series.points.len() - 1;
    let is_newest = series.not_measured_since.is_none();
    series.last_step = steps.pop_if(|step| is_newest && step.at == last);
    // A course that moves steadily steps at every visit: that is its trend.
    let steady = matches!(
        series.outlook.as_ref().map(|outlook| outlook.shape),
        Some(Shape::Straight | Shape::Faster)
    ) && series.trend().is_some_and(|trend| trend.is_sure());
    let stayed = |step: &Step| {
        let (was, is) = (
            series.points[step.at - 1].figure.value,
            series.points[step.at].figure.value,
        );
        let half = f64::midpoint(was, is);
        series.points[step.at..]
            .iter()
            .all(|p| (p.figure.value > half) == (is > half))
    };
    series.jumps = steps
        .into_iter()
        .filter(|step| step.stands_out && !steady && stayed(step))
        .collect();
}
