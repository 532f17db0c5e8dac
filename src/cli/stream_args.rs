//! The stream of a board that does not say everything itself, as arguments.
#![allow(clippy::doc_markdown)] // doc comments here are help texts for the terminal

use super::input;
use crate::capture::ChannelMeta;
use crate::link::{
    KNOWN_BOARDS, KnownBoard, PipedSource, SerialSettings, SerialSource, Source, StreamOptions,
    WhenLost, check_channel_name,
};
use anyhow::Context;
use clap::{Args, ValueEnum};
use measure::units::{Role, Track};

/// What the user says of the stream of a board that does not say it itself.
#[derive(Debug, Clone, Args)]
pub(super) struct StreamArgs {
    /// ADC resolution of a board that prints bare numbers
    #[arg(long)]
    bits: Option<u32>,
    /// ADC reference in millivolts of a board that prints bare numbers
    #[arg(long, value_name = "MV")]
    vref_mv: Option<f64>,
    /// Samples a second of a board that prints bare numbers
    #[arg(long, value_name = "HZ")]
    rate_hz: Option<f64>,
    /// Columns of a board that prints bare numbers, e.g. t_us,pedal_a,pedal_b
    #[arg(long, value_delimiter = ',', value_name = "NAME,...")]
    columns: Option<Vec<String>>,
    /// How far the board's ADC may read off a straight line, in codes; without it, what such boards usually have
    #[arg(long, value_name = "CODES")]
    inl_codes: Option<f64>,
    /// The part that samples, for its usual non-linearity: atmega328p, attiny85, rp2040, esp32, stm32
    #[arg(long, value_name = "PART", conflicts_with = "inl_codes", value_parser = board)]
    board: Option<&'static KnownBoard>,
    /// What a column carries: NAME=signal:1, NAME=signal:2, NAME=supply, NAME=output, NAME=reference (a good sensor on the same shaft)
    #[arg(long = "channel", value_name = "NAME=ROLE[:TRACK]", value_parser = channel)]
    pub(super) channels: Vec<(String, ChannelMeta)>,
    /// What to do when the cable is pulled: wait for it to come back, or end
    #[arg(long, value_enum, default_value_t = OnUnplug::Wait)]
    on_unplug: OnUnplug,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum OnUnplug {
    /// Wait for it to come back
    Wait,
    /// End the run and keep what was taken
    End,
}

impl StreamArgs {
    /// The stream's options; refused when they cannot be.
    pub(super) fn options(&self) -> anyhow::Result<StreamOptions> {
        let options = StreamOptions {
            bits: self.bits,
            vref_mv: self.vref_mv,
            rate_hz: self.rate_hz,
            columns: self.columns.clone(),
            inl_codes: self.inl_codes.or(self.usual_inl_codes()),
            joined_mid_line: true,
        };
        options.check()?;
        Ok(options)
    }

    /// Of the named part, in codes of the bits that were stated, else of those that it is usually read with.
    fn usual_inl_codes(&self) -> Option<f64> {
        let board = self.board?;
        Some(board.inl_code_at(self.bits.unwrap_or(board.bits)))
    }

    /// A port, with what was said of a pulled cable; `-` is the standard input.
    pub(super) fn open(&self, path: &str, baud: Option<u32>) -> anyhow::Result<Box<dyn Source>> {
        if path == "-" {
            drop(input::stdin().context("cannot take a stream from the standard input")?);
            return Ok(Box::new(PipedSource::new(
                "standard input",
                std::io::stdin(),
            )));
        }
        Ok(Box::new(SerialSource::open(SerialSettings {
            path: path.to_owned(),
            baud,
            when_lost: match self.on_unplug {
                OnUnplug::Wait => WhenLost::Wait,
                OnUnplug::End => WhenLost::End,
            },
        })?))
    }
}

fn board(name: &str) -> Result<&'static KnownBoard, String> {
    let known = || KNOWN_BOARDS.iter().map(|board| board.name);
    KnownBoard::named(name).ok_or_else(|| {
        let known = known().collect::<Vec<_>>().join(", ");
        format!("not known; known are {known}; for any other state --inl-codes")
    })
}

fn channel(text: &str) -> Result<(String, ChannelMeta), String> {
    let (name, what) = text
        .split_once('=')
        .ok_or("say NAME=ROLE or NAME=ROLE:TRACK, e.g. pedal_b=signal:2")?;
    check_channel_name(name).map_err(|e| e.to_string())?;
    let (role, track) = match what.split_once(':') {
        Some((role, track)) => (role, Some(track)),
        None => (what, None),
    };
    let role = role.parse::<Role>().map_err(|e| e.to_string())?;
    let track = track
        .map(|number| {
            number
                .parse::<u8>()
                .ok()
                .and_then(|n| Track::try_from(n).ok())
                .ok_or("a track is 1 or 2")
        })
        .transpose()?;
    let track = track.or((role == Role::Signal).then_some(Track::One));
    Ok((name.to_owned(), ChannelMeta { role, track }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn channels_are_read() {
        assert_eq!(
            channel("b=signal:2").unwrap().1,
            ChannelMeta {
                role: Role::Signal,
                track: Some(Track::Two)
            }
        );
        assert_eq!(
            channel("v=supply").unwrap().1,
            ChannelMeta {
                role: Role::Supply,
                track: None
            }
        );
        assert!(channel("b=signal:3").is_err() && channel("b").is_err());
        let reserved = channel("ref=reference").unwrap_err();
        assert!(reserved.contains("angle=reference"), "{reserved}");
    }
}
