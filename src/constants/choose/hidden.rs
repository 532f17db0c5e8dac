//! What the chosen windows miss, with the change of wiring that would show it.

use super::evidence::TrackEvidence;
use super::tracks::TrackCheck;
use super::{ChooseError, bad};
use crate::constants::{Factor, Q15_ONE, Window};
use crate::wiring::faults::{Class, Direction, FaultRow};
use crate::wiring::search::{Advice, Recommendation};
use crate::wiring::track::MissedFault;
use crate::wiring::valid::Thresholds;
use crate::wiring::{ControlWiring, FaultAnalysis, FaultReading, WiringReport, pair};
use measure::units::Track;
use schemars::JsonSchema;
use serde::Serialize;

/// A single fault that the board may run on with.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct HiddenFault {
    pub channel: String,
    pub fault: String,
    #[schemars(with = "String")]
    pub class: Class,
    pub direction: Option<Direction>,
    /// What it is taken for where it is not caught, percent of command.
    pub reads_as_pct: Option<[f64; 2]>,
    /// Travels in percent at which the windows catch it.
    pub caught_at_pct: Vec<[f64; 2]>,
    /// Travels in percent at which the comparison of the tracks shows it; absent with one track.
    pub tracks_show_at_pct: Option<Vec<[f64; 2]>>,
    /// Lowest and highest of the command that it is taken for less the one asked, percent.
    pub error_pct: Option<[f64; 2]>,
    /// Whether that is so small that the dead bands can allow for it, as `wiring` judges.
    pub small: bool,
    pub change: String,
    /// The one rewiring that `wiring` advises takes the danger away.
    #[serde(skip)]
    pub cured: bool,
    /// The most that comes out with it while the control stands at its zero end and nothing notices, percent of full output; absent
    /// when it is noticed there, and where the input commands nothing by itself.
    pub at_rest_pct: Option<f64>,
}

/// Output in percent that a single fault may bring while the control that must be at rest stands at its zero end (DESIGN 4.6).
pub const MOST_AT_REST_PCT: f64 = 5.0;

impl HiddenFault {
    /// Whether it drives the motor while the control stands at its zero end.
    pub fn drives_at_rest(&self) -> bool {
        self.at_rest_pct.is_some_and(|pct| pct > MOST_AT_REST_PCT)
    }

    /// Whether it asks for more than was asked, by more than the dead bands make room for.
    pub fn is_dangerous(&self) -> bool {
        self.direction == Some(Direction::Unsafe) && !self.small
    }

    /// Whether it is dangerous, and nothing on the board ever catches it.
    pub fn is_never_caught_and_unsafe(&self) -> bool {
        let shown = self
            .tracks_show_at_pct
            .as_ref()
            .is_some_and(|runs| !runs.is_empty());
        self.is_dangerous() && matches!(self.class, Class::Hidden | Class::Floats) && !shown
    }

    /// Whether no constants are made with it for the control that must be at rest to start, unless it is accepted.
    pub fn is_objected_to(&self) -> bool {
        self.drives_at_rest() || self.is_never_caught_and_unsafe()
    }
}

/// What comes out of an input that commands: by its own edges and curve, and by the second track that checks it.
pub(super) struct Commanding<'a> {
    pub seen: &'a TrackEvidence,
    pub factor: &'a Factor,
    /// From which difference on the tracks are taken to disagree, as a share of travel; none with one track.
    pub band: Option<f64>,
}

impl Commanding<'_> {
    /// Output, 0 to 1, of a reading that lies at `share` of a unit's span; `None` when the second track, which stands at `zero`,
    /// shows it.
    fn output(&self, share: f64, zero: f64) -> Option<f64> {
        if self.band.is_some_and(|band| (share - zero).abs() > band) {
            return None;
        }
        let code = self.seen.rest.level() + share * self.seen.span();
        Some(self.factor_at(code))
    }

    /// The share of travel from the zero end at which it puts out more than a fault may at rest.
    pub(super) fn most_at_rest(&self, zero: f64) -> f64 {
        let way = if zero > 0.0 { -1.0 } else { 1.0 };
        (0..=400)
            .map(|k| f64::from(k) / 1000.0)
            .find(|from| {
                let code = self.seen.rest.level() + (zero + way * from) * self.seen.span();
                self.factor_at(code) * 100.0 > MOST_AT_REST_PCT
            })
            .unwrap_or(1.0)
    }

    /// The command of the factor at a code, a fraction of one too: straight between its knots.
    fn factor_at(&self, code: f64) -> f64 {
        let one = f64::from(Q15_ONE);
        let knots = std::iter::once((self.factor.rest_edge, 0.0))
            .chain(
                self.factor
                    .points
                    .iter()
                    .map(|point| (point.code, f64::from(point.q15) / one)),
            )
            .chain([(self.factor.full_edge, 1.0)]);
        let knots: Vec<(f64, f64)> = knots.map(|(at, value)| (f64::from(at), value)).collect();
        let way = if self.factor.full_edge < self.factor.rest_edge {
            -1.0
        } else {
            1.0
        };
        if (code - knots[0].0) * way <= 0.0 {
            return 0.0;
        }
        let piece = knots
            .windows(2)
            .find(|pair| (code - pair[1].0) * way <= 0.0);
        piece.map_or(1.0, |pair| {
            let ((from, low), (to, high)) = (pair[0], pair[1]);
            low + (high - low) * (code - from) / (to - from)
        })
    }
}

/// The share of the second track's travel from which a check takes the tracks to disagree.
pub(super) fn band_of(check: &TrackCheck, second: &TrackEvidence) -> f64 {
    f64::from(check.check.band) / second.span().abs()
}

/// A track on the board: its analysis with the thresholds that were chosen.
pub(super) fn on_board(
    control: &ControlWiring,
    track: Track,
    (channel, window): (&str, Window),
) -> Result<Option<FaultAnalysis>, ChooseError> {
    let Some(wired) = control.track(track) else {
        return Ok(None);
    };
    let analysis = control
        .analysis(wired)
        .map_err(|e| bad(format!("{channel}: {e}")))?;
    let hookup = analysis.hookup();
    let codes = f64::from(hookup.scale().codes());
    let top = hookup.scale().max_code().as_f64();
    let (low, high) = (f64::from(window.low), f64::from(window.high));
    let thresholds = Thresholds {
        below: if low > 0.0 {
            (low - 0.5) / codes
        } else {
            f64::NEG_INFINITY
        },
        above: if high < top {
            (high + 0.5) / codes
        } else {
            f64::INFINITY
        },
    };
    Ok(Some(analysis.with_thresholds(thresholds)))
}

/// What helps. A control is rewired once: of the changes it is the one that `wiring` advises, or none.
fn in_words(missed: &MissedFault, advised: Option<&Recommendation>) -> String {
    match (&missed.advice, advised) {
        (Advice::Expose(_) | Advice::MakeSafe(_), Some(advised)) if missed.cured => {
            format!("gone with {}", advised.change)
        }
        (Advice::Expose(_) | Advice::MakeSafe(_), _) => {
            let how = missed.fault.shown_by();
            how.unwrap_or("a control with two tracks shows it")
                .to_owned()
        }
        (advice, _) => advice.to_string(),
    }
}

/// The faults of one track that its window misses.
pub(super) fn missed(
    analysis: &FaultAnalysis,
    report: &WiringReport,
    track: Track,
    channel: &str,
    (commanding, compared): (Option<&Commanding<'_>>, bool),
) -> Vec<HiddenFault> {
    let Some(report) = report.tracks.iter().find(|report| report.track == track) else {
        return Vec::new();
    };
    let mut rows = analysis.judge_all();
    if compared {
        pair::mark(analysis, &mut rows);
    }
    let advised = |row: &FaultRow| {
        report
            .hidden
            .iter()
            .find(|missed| missed.fault == row.fault)
    };
    let at_rest = |row: &FaultRow| {
        let commanding = commanding?;
        let zero = analysis.zero().travel();
        let output = |seen: FaultReading| {
            let noticed = analysis.thresholds().catch(seen.ratio);
            (!noticed).then(|| commanding.output(seen.share, zero))?
        };
        analysis.at_zero(row.fault, output).map(|out| out * 100.0)
    };
    rows.into_iter()
        .filter(FaultRow::missed)
        .map(|row| HiddenFault {
            channel: channel.to_owned(),
            fault: row.fault.to_string(),
            class: row.class,
            direction: row.direction,
            reads_as_pct: row.reads_as_pct,
            caught_at_pct: row.caught_at_pct.clone(),
            tracks_show_at_pct: row.pair_shows_at_pct.clone(),
            error_pct: row.error_pct,
            small: advised(&row).is_some_and(|missed| matches!(missed.advice, Advice::Small(_))),
            change: advised(&row).map_or_else(
                || {
                    "the limits that this part leaves are too wide to catch it: see `wiring`"
                        .to_owned()
                },
                |missed| in_words(missed, report.recommended.as_ref()),
            ),
            cured: advised(&row).is_some_and(|missed| missed.cured),
            at_rest_pct: at_rest(&row),
        })
        .collect()
}

/// What both tracks together miss: their signal wires touching.
pub(super) fn missed_by_both(
    [one, two]: [&FaultAnalysis; 2],
    channels: &str,
    (commanding, band): (&Commanding<'_>, f64),
) -> Vec<HiddenFault> {
    let zero = one.zero().travel();
    pair::compare(one, two, band)
        .faults
        .into_iter()
        .filter(|fault| fault.direction.is_some())
        .map(|fault| {
            let at_rest = fault.at_zero_pct.map(|pct| {
                let travel = if zero > 0.0 {
                    1.0 - pct / 100.0
                } else {
                    pct / 100.0
                };
                let alone = Commanding {
                    band: None,
                    ..*commanding
                };
                alone.output(travel, zero).unwrap_or(0.0) * 100.0
            });
            HiddenFault {
                channel: channels.to_owned(),
                fault: fault.fault.to_owned(),
                class: fault.class,
                direction: fault.direction,
                reads_as_pct: fault.at_zero_pct.map(|pct| [pct, pct]),
                caught_at_pct: fault.caught_at_pct,
                tracks_show_at_pct: Some(fault.pair_shows_at_pct),
                error_pct: None,
                small: false,
                change:
                    "tracks of different slope and one sign agree at zero only: use such a pair"
                        .to_owned(),
                cured: false,
                at_rest_pct: at_rest,
            }
        })
        .collect()
}
