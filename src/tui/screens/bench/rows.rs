//! The list of figures: which rows there are, in which order.

use crate::tui::run::{Phase, Run};
use crate::tui::session::Session;
use measure::figure::{Figure, FigureName, Figures, Scope};
use measure::judge::{Finding, Limit, Outcome};

/// One figure of one channel or pair.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Row<'a> {
    /// The channel, or `a/b`.
    pub channel: &'a str,
    /// The place of the channel among the lanes; absent for a pair.
    pub lane: Option<usize>,
    pub name: FigureName,
    /// What it is so far; absent when the samples do not support it.
    pub figure: Option<&'a Figure>,
    /// How it stands against its limit; absent when nothing has been assessed or there is no limit.
    pub finding: Option<&'a Finding>,
    /// Whether the run is over: until then no outcome is for good.
    pub over: bool,
    pub min: Option<f64>,
    pub max: Option<f64>,
}

impl Row<'_> {
    pub fn limited(&self) -> bool {
        self.min.is_some() || self.max.is_some()
    }
}

/// The rows of the list: what has a limit first, then what has a value, then (if all are asked for) the rest;
/// within each, by channel and then as in the catalogue. When the run is over, what failed or is open comes before
/// what passed; until then rows keep their places.
pub fn rows(session: &Session) -> Vec<Row<'_>> {
    let run = &session.run;
    let mut all = Vec::new();
    for (channel, lane, figures) in channels(run) {
        let scope = if lane.is_none() && channel.contains('/') {
            Scope::Pair
        } else {
            Scope::Channel
        };
        all.extend(FigureName::of(scope).map(|name| row(run, channel, lane, name, figures)));
    }
    let over = run.phase != Phase::Live;
    let rank = |row: &Row<'_>| match (row.limited(), row.figure.is_some()) {
        (true, _) if over => row.finding.map_or(3, |finding| urgency(finding.outcome)),
        (true, _) => 0,
        (false, true) => 4,
        (false, false) => 5,
    };
    all.retain(|row| session.all_figures || rank(row) < 5);
    all.sort_by_key(rank); // stable: the order within a rank stays
    all
}

/// What wants to be looked at first has the lowest number; below that of a row without a limit.
fn urgency(outcome: Outcome) -> u8 {
    match outcome {
        Outcome::Fail => 0,
        Outcome::Undecided => 1,
        Outcome::NotMeasured => 2,
        Outcome::Pass => 3,
    }
}

/// How many findings there are and how many of them are decided.
pub fn decided(run: &Run) -> Option<(usize, usize)> {
    let findings = &run.assessment.as_ref()?.findings;
    let open = |f: &&Finding| matches!(f.outcome, Outcome::Undecided | Outcome::NotMeasured);
    let total = findings.len();
    (total > 0).then(|| (total, total - findings.iter().filter(open).count()))
}

type ChannelFigures<'a> = (&'a str, Option<usize>, Option<&'a Figures>);

/// Signal channels and then pairs. Before the first assessment: as the stream and the profile have them.
fn channels(run: &Run) -> Vec<ChannelFigures<'_>> {
    let lane_of = |name: &str| run.lanes.iter().position(|lane| lane.name == name);
    let Some(assessment) = run.assessment.as_deref() else {
        return run
            .drawn_lanes()
            .into_iter()
            .filter_map(|lane| Some((run.lanes.get(lane)?.name.as_str(), Some(lane), None)))
            .collect();
    };
    let of_channels = assessment
        .channels
        .iter()
        .map(|(name, part)| (name.as_str(), lane_of(name), Some(&part.figures)));
    let of_pairs = assessment
        .pairs
        .iter()
        .map(|(name, part)| (name.as_str(), None, Some(&part.figures)));
    of_channels.chain(of_pairs).collect()
}

fn row<'a>(
    run: &'a Run,
    channel: &'a str,
    lane: Option<usize>,
    name: FigureName,
    figures: Option<&'a Figures>,
) -> Row<'a> {
    let finding = run
        .assessment
        .as_deref()
        .and_then(|assessment| assessment.finding(channel, name));
    let limit = run.limit(channel, name);
    Row {
        channel,
        lane,
        name,
        figure: figures.and_then(|figures| figures.get(name)),
        finding,
        over: run.phase != Phase::Live,
        min: finding.map_or_else(|| limit.and_then(Limit::min), |finding| finding.min),
        max: finding.map_or_else(|| limit.and_then(Limit::max), |finding| finding.max),
    }
}
