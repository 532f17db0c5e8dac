//! Two recordings of a control whose dates and order do not fit: a clock that is wrong hides the newer one.

use crate::capture::Capture;
use crate::machine::{Evidence, Machine, day};
use crate::outlet::line;
use crate::record::Assessment;
use measure::figure::{Figure, FigureName, numbers};
use measure::judge::Verdict;
use measure::seasons::usual_difference;
use measure::units::{Role, Track};

/// Recordings of the same control that were added after the one in this place and are dated before it.
pub(super) fn later(machine: &Machine, at: usize) -> impl Iterator<Item = &Evidence> {
    let newest = &machine.evidence[at];
    let later = machine.evidence[at + 1..].iter();
    later.filter(|later| {
        let control = newest.control.as_deref().unwrap_or_default();
        machine.is_of(later, control)
            && later.sha256 != newest.sha256
            && later.taken_at() < newest.taken_at()
    })
}

/// A recording with what it gave; nothing of one that cannot be judged.
pub(super) type Told<'a> = (&'a Evidence, Option<(&'a Capture, &'a Assessment)>);

/// What the later added one says that the newest does not: another verdict, or ends that another day does not explain.
pub(super) fn against(later: &Told<'_>, newest: &Told<'_>) -> Option<String> {
    let [(is, dated), (was, newest_dated)] = [later, newest].map(|(evidence, _)| {
        let dated = evidence.taken_at().map_or_else(String::new, day);
        (&evidence.file, dated)
    });
    let verdict = |told: &Told<'_>| told.1.and_then(|(_, assessment)| assessment.verdict);
    let [says, said] = [verdict(later), verdict(newest)];
    if says != said {
        return Some(format!(
            "{is} was added later and is dated earlier ({dated}), and it {}; {was} ({newest_dated}) {}: which is right?",
            in_words(says),
            in_words(said)
        ));
    }
    let (reads, read) = ends_apart(later.1?, newest.1?)?;
    Some(format!(
        "{is} was added later and is dated earlier ({dated}), and {reads}; in {was} ({newest_dated}) {read}: which clock was wrong?"
    ))
}

/// The first end that lies further apart than both intervals and another day explain: what it reads, and what the newest reads there.
fn ends_apart(
    (capture, assessment): (&Capture, &Assessment),
    (newest, judged): (&Capture, &Assessment),
) -> Option<(String, String)> {
    let [bits, newest_bits] = [capture, newest].map(|of| of.meta.board.bits);
    let other_board = bits != newest_bits;
    let ends = [
        (FigureName::RestRatio, "at rest"),
        (FigureName::FullRatio, "at full"),
    ];
    [Track::One, Track::Two].into_iter().find_map(|track| {
        let channel = on_track(capture, track)?;
        let newest_channel = on_track(newest, track)?;
        ends.iter().find_map(|(name, end)| {
            let figure = assessment.figures(channel)?.get(*name)?;
            let newest = judged.figures(newest_channel)?.get(*name)?;
            let anyway = usual_difference(*name, newest.value, newest_bits, other_board);
            let value = |figure: &Figure| numbers::reading(figure).value;
            (gap(figure, newest) > anyway).then(|| {
                let reads = format!(
                    "{} reads {} of the reference {end}",
                    line(channel),
                    value(figure)
                );
                (reads, value(newest))
            })
        })
    })
}

/// What lies between two intervals; of one that is not known nothing.
fn gap(one: &Figure, other: &Figure) -> f64 {
    let between = |below: &Figure, above: &Figure| Some(above.low? - below.high?);
    let gaps = [between(one, other), between(other, one)];
    gaps.into_iter().flatten().fold(0.0, f64::max)
}

fn on_track(capture: &Capture, track: Track) -> Option<&str> {
    let mut channels = capture.meta.channels.iter();
    let on =
        channels.find(|(_, of)| of.role == Role::Signal && of.track.unwrap_or(Track::One) == track);
    on.map(|(name, _)| name.as_str())
}

fn in_words(verdict: Option<Verdict>) -> &'static str {
    match verdict {
        Some(Verdict::Pass) => "passes",
        Some(Verdict::Fail) => "fails",
        Some(Verdict::Undecided) => "is undecided",
        None => "cannot be judged",
    }
}
