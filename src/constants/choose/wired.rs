//! What belongs together: captures of one board, and one control's tracks with their wiring.

use super::curve::Target;
use super::edges::{Allowance, Creep};
use super::evidence::TrackEvidence;
use super::window::{self, PlacedWindow};
use super::{ChooseError, ChooseOptions, ErrorKind, bad};
use crate::capture::Capture;
use crate::profile::{Profile, SAME_REFERENCE};
use crate::record::Assessment;
use crate::wiring::faults::SMALL_PCT;
use crate::wiring::pull_up::bare_rheostat;
use crate::wiring::{ControlWiring, Curve, Network, WiringReport};
use measure::units::{Role, Track};
use measure::{Channel, Dropout, Recording};

/// One control: its capture, what it was held against, and what came of it.
#[derive(Debug, Clone, Copy)]
pub struct MeasuredControl<'a> {
    /// The capture's file, for messages.
    pub file: &'a str,
    pub profile: &'a Profile,
    pub capture: &'a Capture,
    pub assessment: &'a Assessment,
}

/// The bits that all captures and the board share.
pub(super) fn same_board(
    given: &[MeasuredControl<'_>],
    options: &ChooseOptions,
) -> Result<u8, ChooseError> {
    let first = given
        .first()
        .ok_or_else(|| bad("no recording was given".to_owned()))?;
    let board = &first.capture.meta.board;
    for other in &given[1..] {
        let its = &other.capture.meta.board;
        if its.bits != board.bits {
            return Err(bad(format!(
                "{} was taken with {} bits and {} with {} bits: one board reads both controls, so take both with its ADC",
                first.file, board.bits, other.file, its.bits
            )));
        }
        if (its.vref_mv / board.vref_mv - 1.0).abs() > SAME_REFERENCE {
            return Err(bad(format!(
                "{} was taken against {} mV and {} against {} mV: their codes mean different voltages; take both with one board",
                first.file, board.vref_mv, other.file, its.vref_mv
            )));
        }
    }
    for control in given {
        let mv = control.capture.meta.board.vref_mv;
        let stated = |track| control.profile.other_reference_mv(track, mv);
        if let Some(stated) = control.profile.tracks.keys().copied().find_map(stated) {
            return Err(bad(format!(
                "{} was taken against {mv} mV, and \"{}\" is for a board whose reference is {stated} mV: take it with that board, or state \
                 the reference in the profile (`reference_mv`)",
                control.file, control.profile.name
            )));
        }
    }
    let bits = u8::try_from(board.bits)
        .ok()
        .filter(|bits| (8..=15).contains(bits));
    let bits = bits.ok_or_else(|| {
        bad(format!(
            "{} was taken with {} bits, the firmware core takes 8 to 15",
            first.file, board.bits
        ))
    })?;
    if let Some(board_bits) = options.board_bits.filter(|board_bits| *board_bits != bits) {
        return Err(bad(format!(
            "{} was taken with {bits} bits, the board has {board_bits}: take the recordings with that board, or state its bits",
            first.file
        )));
    }
    Ok(bits)
}

/// One control's tracks, ready for the rules.
pub(super) struct WiredControl<'a> {
    pub(super) control: &'a MeasuredControl<'a>,
    pub(super) recording: Recording<'a>,
    pub(super) wiring: ControlWiring,
    pub(super) report: WiringReport,
    pub(super) top: u16,
}

impl<'a> WiredControl<'a> {
    /// A control with what its profile says of its wiring, on a board of so many bits; `top`: the highest code.
    pub(super) fn of(
        control: &'a MeasuredControl<'a>,
        bits: u32,
        top: u16,
    ) -> Result<Self, ChooseError> {
        let wiring = control.profile.control_wiring(bits);
        let recording = control.capture.recording();
        Ok(Self {
            recording: recording.map_err(|e| bad(e.to_string()))?,
            report: WiringReport::of(&wiring).map_err(|e| bad(e.to_string()))?,
            control,
            wiring,
            top,
        })
    }
}

impl WiredControl<'_> {
    pub(super) fn channel(&self, track: Track) -> Option<Channel<'_>> {
        let signal = |c: &&Channel<'_>| c.role == Role::Signal && c.track == track;
        self.recording.channels.iter().find(signal).copied()
    }

    pub(super) fn seen(&self, channel: &Channel<'_>) -> Result<TrackEvidence, ChooseError> {
        let figures = self
            .control
            .assessment
            .figures(channel.name)
            .ok_or_else(|| {
                bad(format!(
                    "{}: there are no results of {}",
                    self.control.file, channel.name
                ))
            })?;
        let lost = self.dropouts(channel.name);
        let seen = TrackEvidence::of(&self.recording, channel, (figures, lost), self.control.file)?;
        self.moves_as_wired(channel.track, &seen)?;
        Ok(seen)
    }

    /// The dropouts of a channel.
    fn dropouts(&self, channel: &str) -> &[Dropout] {
        let mut channels = self.control.assessment.channels.iter();
        let part = channels.find(|(name, _)| name == channel);
        part.map_or(&[], |(_, part)| part.dropouts.as_slice())
    }

    /// Refuses a track that moves the other way than its wiring says.
    fn moves_as_wired(&self, track: Track, seen: &TrackEvidence) -> Result<(), ChooseError> {
        let wired = self.wiring.track(track);
        let hookup = wired.and_then(|wired| self.wiring.hookup(wired).ok());
        let expected = hookup.map_or(0.0, |hookup| Curve::of(&hookup).span());
        if expected * seen.span() >= 0.0 {
            return Ok(());
        }
        let way = |span: f64| if span > 0.0 { "rises" } else { "falls" };
        Err(bad(format!(
            "{}, {}: the reading {} from rest to full, and by the wiring of \"{}\" it {}: is it another control, or are two of \
             its wires changed over?",
            self.control.file,
            seen.channel,
            way(seen.span()),
            self.control.profile.name,
            way(expected)
        )))
    }

    pub(super) fn window(
        &self,
        track: Track,
        seen: &TrackEvidence,
    ) -> Result<PlacedWindow, ChooseError> {
        let report = self
            .report
            .tracks
            .iter()
            .find(|report| report.track == track);
        let windows = report.map(|report| &report.windows).ok_or_else(|| {
            bad(format!(
                "profile \"{}\" does not say how track {track} is wired, so no fault window can be told: add its `wiring`",
                self.control.profile.name
            ))
        })?;
        Ok(window::window(seen, windows, self.top))
    }

    /// What a small fault of a wire or a part, unnoticed, does at the zero end: the worst of them.
    pub(super) fn creep(&self, track: Track) -> Creep {
        let report = self
            .report
            .tracks
            .iter()
            .find(|report| report.track == track);
        let rows = report.into_iter().flat_map(|report| &report.faults);
        let small = rows.filter(|row| row.missed() && row.fault.places_thresholds());
        let crept = small.filter_map(|row| {
            let pct = row
                .at_zero_pct
                .filter(|pct| *pct > 0.0 && *pct <= SMALL_PCT)?;
            Some(Creep {
                share: pct / 100.0,
                fault: row.fault.to_string(),
            })
        });
        crept
            .max_by(|a, b| a.share.total_cmp(&b.share))
            .unwrap_or_default()
    }

    /// What may move the track's ends later.
    pub(super) fn allowance(&self, track: Track) -> Allowance {
        let wired = self.wiring.track(track);
        let supply = wired.and_then(|wired| wired.wiring.supply_tolerance_pct());
        Allowance {
            drift: self.control.profile.drift_allowance_pct / 100.0,
            supply: supply.unwrap_or(0.0) / 100.0,
        }
    }

    /// What wear of a rheostat's contact does, which adds to its resistance; nothing for other networks.
    pub(super) fn wear(&self, track: Track) -> String {
        let wired = self.wiring.track(track);
        let Some(Network::Rheostat { track, .. }) = wired.map(|wired| wired.wiring.network) else {
            return String::new();
        };
        format!(
            "; the resistance of its own contact adds to the command and no window sees it: from {:.0} ohm on it asks for more than \
             {SMALL_PCT} % of full command too much (three wires would not)",
            track.ohm * SMALL_PCT / 100.0
        )
    }

    /// What the command should follow: measured travel, else the divider, else the reading.
    pub(super) fn target(&self, channel: &Channel<'_>) -> Result<Target, ChooseError> {
        let parts = &self.control.assessment.channels;
        let curve = parts
            .iter()
            .find(|(name, _)| name == channel.name)
            .and_then(|(_, part)| part.curve.as_ref());
        if let Some(curve) = curve {
            return Target::measured(curve).ok_or_else(|| {
                ChooseError::new(
                    ErrorKind::Fail,
                    format!(
                        "{}, {}: the reading does not go one way over the stations: no curve can follow it; record them again",
                        self.control.file, channel.name
                    ),
                )
            });
        }
        let part = self.control.profile.tracks.get(&channel.track);
        let bare = part.and_then(|part| bare_rheostat(part.wiring.as_ref()?));
        let codes = f64::from(self.top) + 1.0;
        Ok(bare.map_or(Target::Straight, |_| Target::Divider { codes }))
    }
}
