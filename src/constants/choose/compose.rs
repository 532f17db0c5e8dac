//! One block from the captures of one or more controls.

use super::evidence::TrackEvidence;
use super::filter::FilterInput;
use super::hidden::{Commanding, HiddenFault, band_of, missed, missed_by_both, on_board};
use super::wired::{MeasuredControl, WiredControl, same_board};
use super::{
    Choice, ChooseError, ChooseOptions, ErrorKind, bad, curve, edges, filter, output, persistence,
    tracks,
};
use crate::constants::{Block, BlockFields, Factor, Input, Q15_ONE, Start, TargetBoard, Task};
use crate::profile::Kind;
use measure::Channel;
use measure::judge::{Outcome, Verdict};
use measure::units::Track;

#[derive(Debug, Clone, PartialEq)]
pub struct Chosen {
    pub block: Block,
    pub inputs: Vec<String>,
    pub choices: Vec<Choice>,
    /// Single faults that its windows miss.
    pub hidden: Vec<HiddenFault>,
    /// What stands against using the block; whoever uses it all the same must say why.
    pub objections: Vec<ChooseError>,
}

impl Chosen {
    /// Whether a channel is of the control that must be let go before the board starts.
    pub fn starts(&self, channel: &str) -> bool {
        let start = self.block.numbers().start.input;
        let own = self
            .inputs
            .iter()
            .zip(&self.block.numbers().inputs)
            .enumerate();
        own.into_iter().any(|(at, (name, input))| {
            let checks = matches!(&input.task, Task::Check(check) if check.partner == start);
            name == channel && (at == usize::from(start) || checks)
        })
    }
}

/// Chooses every number. Inputs come in the order of the controls, of each the first track as a factor and then the second
/// as its check; the [`starter`] gives the start condition.
pub fn choose(
    given: &[MeasuredControl<'_>],
    options: &ChooseOptions,
) -> Result<Chosen, ChooseError> {
    let bits = same_board(given, options)?;
    let (output, output_choices) = output::output(options)?;
    let starter = starter(given.iter().map(|control| control.profile.kind));
    let first = given
        .get(starter)
        .ok_or_else(|| bad("no recording was given".to_owned()))?;
    let vref_mv = first.capture.meta.board.vref_mv;
    let (watch, watch_choices) = output::watch(bits, vref_mv, options)?;
    let top = (1_u16 << bits) - 1;
    let mut draft = BlockFields {
        board: TargetBoard {
            adc_bits: bits,
            dac_bits: options.dac_bits,
            rate_hz: options.board_rate_hz,
        },
        output,
        start: Start {
            input: 0,
            samples: 1,
        },
        persistence: 1,
        watch,
        inputs: Vec::new(),
    };
    let mut composer = Composer::default();
    let mut start_input = 0;
    for (place, control) in given.iter().enumerate() {
        let starts = place == starter;
        if starts {
            start_input = u8::try_from(draft.inputs.len()).unwrap_or(u8::MAX);
        }
        composer.objections.extend(verdict(control));
        let wired = WiredControl::of(control, u32::from(draft.board.adc_bits), top)?;
        let added = composer.add(&wired, options, &mut draft);
        let missed = added.map_err(|refusal| failed_first(control, refusal))?;
        if starts {
            let remedy = &wired.report.answer.remedy;
            composer.objections.extend(drives_at_rest(&missed, remedy));
        }
        composer.hidden.extend(missed);
    }
    let at = given[starter].profile.zero_command_at.word();
    let (samples, start_choice) = output::start_samples(
        options.board_rate_hz,
        &composer.inputs[usize::from(start_input)],
        at,
    );
    draft.start = Start {
        input: start_input,
        samples,
    };
    let stop = given
        .iter()
        .map(|control| control.profile.stop_within_ms)
        .fold(f64::INFINITY, f64::min);
    let (persistence, persistence_choice) = persistence::persistence(
        f64::from(options.board_rate_hz),
        stop,
        &composer.sigmas,
        options.persistence,
    )?;
    draft.persistence = persistence;
    composer.choices.extend(output_choices);
    composer.choices.extend([start_choice, persistence_choice]);
    composer.choices.extend(watch_choices);
    let block =
        Block::new(draft).map_err(|e| bad(format!("the numbers make no constants: {e}")))?;
    block.fits(options.build).map_err(|e| bad(e.to_string()))?;
    Ok(Chosen {
        block,
        inputs: composer.inputs,
        choices: composer.choices,
        hidden: composer.hidden,
        objections: composer.objections,
    })
}

/// Which control must be released to start: the first that is no dial, else the first.
pub fn starter(kinds: impl IntoIterator<Item = Kind>) -> usize {
    let mut kinds = kinds.into_iter();
    kinds.position(|kind| kind != Kind::Dial).unwrap_or(0)
}

/// A refusal of a part that failed: its failure first, because what else is odd of its numbers may only follow from that.
fn failed_first(control: &MeasuredControl<'_>, refusal: ChooseError) -> ChooseError {
    match verdict(control).filter(|stands| stands.kind == ErrorKind::Fail) {
        Some(failed) => ChooseError::new(
            ErrorKind::Fail,
            format!(
                "{}. Mend or replace it first; then look at the rest: {}",
                failed.words, refusal.words
            ),
        ),
        None => refusal,
    }
}

/// What the verdict says against the unit.
fn verdict(control: &MeasuredControl<'_>) -> Option<ChooseError> {
    let Some(verdict) = control.assessment.verdict else {
        return Some(ChooseError::new(
            ErrorKind::Open,
            format!(
                "{} was checked against no limit: \"{}\" has none",
                control.file, control.profile.name
            ),
        ));
    };
    let (kind, word, wanted) = match verdict {
        Verdict::Pass => return None,
        Verdict::Fail => (ErrorKind::Fail, "fails", [Outcome::Fail; 2]),
        Verdict::Undecided => (
            ErrorKind::Open,
            "is undecided",
            [Outcome::Undecided, Outcome::NotMeasured],
        ),
    };
    let reasons: Vec<String> = control
        .assessment
        .findings
        .iter()
        .filter(|finding| wanted.contains(&finding.outcome))
        .map(|f| format!("{} {}: {}", f.channel, f.figure.facts().label, f.reason))
        .collect();
    Some(ChooseError::new(
        kind,
        format!(
            "{} {word}, checked as \"{}\": {}",
            control.file,
            control.profile.name,
            reasons.join("; ")
        ),
    ))
}

#[derive(Default)]
struct Composer {
    inputs: Vec<String>,
    choices: Vec<Choice>,
    hidden: Vec<HiddenFault>,
    objections: Vec<ChooseError>,
    /// Sigmas from good readings to each limit that counts a sample as bad.
    sigmas: Vec<f64>,
}

impl Composer {
    /// Adds a control's inputs; gives the faults that they miss.
    fn add(
        &mut self,
        wired: &WiredControl<'_>,
        options: &ChooseOptions,
        draft: &mut BlockFields,
    ) -> Result<Vec<HiddenFault>, ChooseError> {
        let control = wired.control;
        let first = wired.channel(Track::One).ok_or_else(|| {
            bad(format!(
                "{} has no signal channel for track 1: name one in its metadata",
                control.file
            ))
        })?;
        let second = wired
            .channel(Track::Two)
            .filter(|_| control.profile.tracks.contains_key(&Track::Two));
        let partner = u8::try_from(draft.inputs.len()).unwrap_or(u8::MAX);
        let seen = wired.seen(&first)?;
        let input = self.factor(wired, &first, &seen, (options, draft))?;
        let of_one = on_board(&wired.wiring, Track::One, (&seen.channel, input.window))?;
        draft.inputs.push(input.clone());
        self.inputs.push(seen.channel.clone());
        let factor = input.factor();
        let commanding = |band| {
            factor.map(|factor| Commanding {
                seen: &seen,
                factor,
                band,
            })
        };
        let Some(second) = second else {
            let commanding = commanding(None);
            let missed = of_one.map(|one| {
                missed(
                    &one,
                    &wired.report,
                    Track::One,
                    &seen.channel,
                    (commanding.as_ref(), false),
                )
            });
            return Ok(missed.unwrap_or_default());
        };
        let other = wired.seen(&second)?;
        let pair = tracks::TrackPair {
            recording: &wired.recording,
            first: (&seen, first.codes),
            second: (&other, second.codes),
            partner,
            most_at_rest: commanding(None).map_or(1.0, |alone| {
                alone.most_at_rest(control.profile.zero_command_at.travel())
            }),
        };
        let placed = wired.window(Track::Two, &other)?;
        let name = format!("{}/{}", first.name, second.name);
        let checked = tracks::check(&pair, control.assessment.figures(&name))?;
        let band = band_of(&checked, &other);
        self.sigmas.extend(placed.sigma);
        self.sigmas.push(checked.sigma);
        let at = self.inputs.len();
        self.keep(at, "window", placed.choices, ["low", "high"]);
        self.keep(at, "check", checked.choices, ["gain_q12", "offset", "band"]);
        let input = Input {
            window: placed.window,
            task: Task::Check(checked.check),
        };
        let of_two = on_board(&wired.wiring, Track::Two, (&other.channel, input.window))?;
        let commanding = commanding(Some(band));
        let mut all = Vec::new();
        if let Some(one) = &of_one {
            all.extend(missed(
                one,
                &wired.report,
                Track::One,
                &seen.channel,
                (commanding.as_ref(), true),
            ));
        }
        if let Some(two) = &of_two {
            all.extend(missed(
                two,
                &wired.report,
                Track::Two,
                &other.channel,
                (None, true),
            ));
        }
        if let (Some(one), Some(two), Some(commanding)) = (&of_one, &of_two, &commanding) {
            all.extend(missed_by_both([one, two], &name, (commanding, band)));
        }
        draft.inputs.push(input);
        self.inputs.push(other.channel);
        Ok(all)
    }

    fn factor(
        &mut self,
        wired: &WiredControl<'_>,
        channel: &Channel<'_>,
        seen: &TrackEvidence,
        (options, draft): (&ChooseOptions, &BlockFields),
    ) -> Result<Input, ChooseError> {
        let profile = wired.control.profile;
        let placed = wired.window(channel.track, seen)?;
        let (edges, edge_choices) = edges::edges(
            seen,
            profile.zero_command_at,
            (&wired.creep(channel.track), wired.allowance(channel.track)),
            wired.top,
        )?;
        let target = wired.target(channel)?;
        let (points, mut curve_choice) =
            curve::points(&seen.channel, &target, edges, options.curve_error_pct)?;
        curve_choice.reason += &wired.wear(channel.track);
        let mut factor = Factor {
            rest_edge: edges.zero,
            full_edge: edges.one,
            points,
            filter_shift: 0,
        };
        let dac_span = f64::from(draft.output.full_dac) - f64::from(draft.output.zero_dac);
        let (shift, filter_choice) = filter::shift(&FilterInput {
            channel: &seen.channel,
            noise: seen.noise,
            dac_per_code: steepest(&factor) * dac_span,
            rate_hz: f64::from(options.board_rate_hz),
            stop_within_ms: profile.stop_within_ms,
            most: 16 - draft.board.adc_bits,
        });
        factor.filter_shift = shift;
        self.sigmas.extend(placed.sigma);
        let at = self.inputs.len();
        self.keep(at, "window", placed.choices, ["low", "high"]);
        self.keep(at, "factor", edge_choices, ["rest_edge", "full_edge"]);
        self.keep(
            at,
            "factor",
            [curve_choice, filter_choice],
            ["points", "filter_shift"],
        );
        Ok(Input {
            window: placed.window,
            task: Task::Factor(factor),
        })
    }

    /// Choices of one part of input `at`, with their places in the block.
    fn keep<const N: usize>(
        &mut self,
        at: usize,
        part: &str,
        choices: [Choice; N],
        fields: [&str; N],
    ) {
        for (choice, field) in choices.into_iter().zip(fields) {
            self.choices.push(Choice {
                place: format!("inputs[{at}].{part}.{field}"),
                ..choice
            });
        }
    }
}

/// What stands against the input that must be at its zero end before the board starts: faults that drive the motor while it stands
/// there, or that ask for more than was asked and are never caught; the worst first.
///
/// `remedy`: what the wiring page says to do about those that drive the motor; empty where it knows none.
fn drives_at_rest(missed: &[HiddenFault], remedy: &str) -> Option<ChooseError> {
    let pct = |fault: &HiddenFault| fault.at_rest_pct.unwrap_or(0.0);
    let mut driving: Vec<&HiddenFault> = missed
        .iter()
        .filter(|fault| fault.is_objected_to())
        .collect();
    driving.sort_by(|a, b| pct(b).total_cmp(&pct(a)));
    let worst = driving.first()?;
    let (at_rest, never): (Vec<&HiddenFault>, Vec<&HiddenFault>) =
        driving.iter().partition(|fault| fault.drives_at_rest());
    let at_rest: Vec<String> = at_rest
        .iter()
        .map(|fault| format!("{} ({:.0} %)", fault.fault, pct(fault)))
        .collect();
    let never: Vec<String> = never.iter().map(|fault| fault.fault.clone()).collect();
    let faults = |n| if n == 1 { "fault" } else { "faults" };
    let mut said = Vec::new();
    if !at_rest.is_empty() {
        said.push(format!(
            "with the control let go, {} single {} can drive the motor and nothing on this board notices: {}",
            at_rest.len(),
            faults(at_rest.len()),
            at_rest.join(", ")
        ));
    }
    if !never.is_empty() {
        said.push(format!(
            "{} single {} can bring more speed than asked and nothing ever notices: {}",
            never.len(),
            faults(never.len()),
            never.join(", ")
        ));
    }
    let remedy = if remedy.is_empty() {
        format!("Against the worst, {}: {}", worst.fault, worst.change)
    } else {
        remedy.to_owned()
    };
    let said = said.join("; ");
    Some(ChooseError::new(
        ErrorKind::Fail,
        format!("{}: {said}. {remedy}", worst.channel),
    ))
}

/// Steepest piece of a factor's curve, command for each code.
fn steepest(factor: &Factor) -> f64 {
    let mut knots = vec![(factor.rest_edge, 0)];
    knots.extend(factor.points.iter().map(|point| (point.code, point.q15)));
    knots.push((factor.full_edge, Q15_ONE));
    knots
        .windows(2)
        .map(|pair| {
            let rise = f64::from(pair[1].1) - f64::from(pair[0].1);
            rise / f64::from(Q15_ONE) / f64::from(pair[1].0.abs_diff(pair[0].0).max(1))
        })
        .fold(0.0, f64::max)
}
