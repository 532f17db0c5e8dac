//! A control on a board, for the person at the card: shares no model with `crates/simulator`.
//!
//! Position is 0 at rest and 1 at the full stop. What the hand does comes from `hand`.

use super::chance::Chance;
use measure::units::Code;

/// Largest code of the board, 10 bits.
const TOP: f64 = 1023.0;

/// One track: fractions of the reference at both ends, how far its curve is bowed, its noise in codes.
#[derive(Debug, Clone)]
pub struct Wire {
    pub rest: f64,
    pub full: f64,
    pub bow: f64,
    pub noise: f64,
    pub fault: Option<Fault>,
}

/// What is wrong with one track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fault {
    /// Always this fraction of the reference: a wire open or shorted.
    Stuck(f64),
    /// So many times the noise between these positions.
    Worn { from: f64, to: f64, times: f64 },
    /// No contact for so many milliseconds whenever it moves past this position.
    Gap { at: f64, ms: f64 },
}

/// What is wrong with the mechanics.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Stiff {
    /// It does not move at all.
    Blocked,
    /// Something stops it there.
    Stop(f64),
    /// It comes back to a different place every time, up to so far from rest.
    Hangs(f64),
    /// It comes back slowly: seconds.
    Slow(f64),
}

/// What is wanted of the plug while the cable is moved: so many losses of so many milliseconds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoosePlug {
    pub ms: f64,
    pub times: u32,
    /// Fraction of the reference that the open input goes to.
    pub reads: f64,
}

/// What the stop does to a control that runs into it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stop {
    /// Height of the first throw, fraction of the travel.
    pub height: f64,
    /// How long that lasts, milliseconds; absent: as long as a fall from that height takes.
    pub ms: Option<f64>,
    /// How many throws there are, each a third as high; absent: until they are too small to see.
    pub throws: Option<u32>,
    /// It swings to both sides instead, so many times a second.
    pub rings_hz: Option<f64>,
}

impl Stop {
    pub const fn of(height: f64) -> Self {
        Self {
            height,
            ms: None,
            throws: None,
            rings_hz: None,
        }
    }
}

/// What comes from outside.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Room {
    /// A line of 50 Hz, rms in codes, and whether it comes by the laptop's charger.
    pub hum: Option<(f64, bool)>,
    /// Jumps to both sides: so many a second, so high in codes, for so many milliseconds.
    pub jumps: Option<(f64, f64, f64)>,
    /// A jump every so many seconds, to the ground, for so many milliseconds.
    pub clock: Option<(f64, f64)>,
}

#[derive(Debug, Clone)]
pub struct Control {
    pub wires: Vec<Wire>,
    /// Whether it comes back by itself.
    pub spring: bool,
    pub stiff: Option<Stiff>,
    pub plug: Option<LoosePlug>,
    /// What the stops do to it.
    pub stop: Stop,
    pub room: Room,
    /// An input of the board that reads too much by a fraction of the reference.
    pub odd_input: Option<(usize, f64)>,
    /// Whether the plug is loose at the board; else its cable is, near the part.
    pub at_plug: bool,
    /// How much the place of rest scatters, fraction of the travel.
    pub scatter: f64,
    /// How much the full stop scatters from press to press, fraction of the travel.
    pub full_scatter: f64,
    /// The full stop gives way by this fraction of the travel, with this time constant in seconds.
    pub full_creep: Option<(f64, f64)>,
    /// What is stated of the board's non-linearity, codes: its ADC is a straight line.
    pub inl_codes: f64,
}

/// The control as it is being sampled.
pub struct Sampled {
    pub control: Control,
    chance: Chance,
    /// Filtered noise of each track, for the half that is not white.
    slow: Vec<f64>,
    at: f64,
    /// Each track is without contact until then, milliseconds.
    gap_until: Vec<f64>,
    /// The plug is out until then, milliseconds.
    out_until: f64,
    /// The laptop runs on its battery.
    pub on_battery: bool,
    /// What is at each input: a track, or nothing.
    pub inputs: Vec<Option<usize>>,
    /// A jump from outside lasts until then, and how high it is, codes.
    jump: (f64, f64),
}

impl Sampled {
    pub fn new(control: Control, chance: Chance) -> Self {
        let n = control.wires.len();
        Self {
            control,
            chance,
            slow: vec![0.0; n],
            at: 0.0,
            gap_until: vec![-1.0; n],
            out_until: -1.0,
            on_battery: false,
            inputs: (0..n).map(Some).collect(),
            jump: (-1.0, 0.0),
        }
    }

    /// The plug loses contact now.
    pub fn lose(&mut self, now_ms: f64, ms: f64) {
        self.out_until = now_ms + ms;
    }

    /// One code a track.
    pub fn read(&mut self, position: f64, now_ms: f64) -> Vec<Code> {
        let before = std::mem::replace(&mut self.at, position);
        let out = now_ms < self.out_until;
        let mut codes = Vec::with_capacity(self.control.wires.len());
        for (n, wire) in self.control.wires.iter().enumerate() {
            let mut noise = wire.noise;
            let mut level = wire.rest
                + (wire.full - wire.rest) * (position + wire.bow * position * (1.0 - position));
            match wire.fault {
                Some(Fault::Stuck(reads)) => level = reads,
                Some(Fault::Worn { from, to, times }) if from < position && position < to => {
                    noise *= times;
                }
                Some(Fault::Gap { at, ms }) => {
                    if (before - at) * (position - at) < 0.0 {
                        self.gap_until[n] = now_ms + ms;
                    }
                    if now_ms < self.gap_until[n] {
                        level = 0.0;
                    }
                }
                _ => {}
            }
            if out {
                // The contact chatters within a millisecond of its edges; the pull of the board takes the pin away.
                level = self.control.plug.map_or(0.0, |plug| plug.reads);
                noise = noise.min(1.0);
            }
            let white = self.chance.normal();
            self.slow[n] = 0.8 * self.slow[n] + 0.6 * self.chance.normal();
            codes.push(level * (TOP + 1.0) + noise * (0.8 * white + 0.6 * self.slow[n]));
        }
        let outside = self.outside(now_ms);
        let odd = self.control.odd_input;
        let inputs = self.inputs.iter().enumerate();
        let read = inputs.map(|(input, track)| {
            let off = odd
                .filter(|(at, _)| *at == input)
                .map_or(0.0, |(_, off)| off);
            // Nothing at it: the board's own pull-down.
            let code = track.map_or(0.0, |track| codes[track] + outside) + off * (TOP + 1.0);
            Code(code.round().clamp(0.0, TOP) as u32)
        });
        read.collect()
    }

    /// What the room adds now, codes.
    fn outside(&mut self, now_ms: f64) -> f64 {
        let Room { hum, jumps, clock } = self.control.room;
        let hum = hum.filter(|(_, by_charger)| !(*by_charger && self.on_battery));
        let line = hum.map_or(0.0, |(rms, _)| {
            rms * 2.0_f64.sqrt() * (2.0 * std::f64::consts::PI * 0.05 * now_ms).sin()
        });
        if let Some((hz, high, ms)) = jumps
            && self.chance.happens(hz / 1000.0)
        {
            let side = if self.chance.happens(0.5) { 1.0 } else { -1.0 };
            self.jump = (now_ms + ms, side * high * self.chance.between(0.6, 1.0));
        }
        if let Some((every_s, ms)) = clock
            && now_ms % (1000.0 * every_s) < 1.0
        {
            self.jump = (now_ms + ms, -2000.0);
        }
        line + if now_ms < self.jump.0 {
            self.jump.1
        } else {
            0.0
        }
    }
}
