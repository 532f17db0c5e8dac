//! The simulated board's text stream: contract 4.1, as the streamer prints it.

use super::LineSource;
use crate::link::{Header, StreamText, Sums};
use measure::units::Code;
use simulator::Simulation;
use std::sync::Arc;
use std::sync::atomic::{AtomicU8, Ordering};

/// The header is repeated this often, in board time.
const HEADER_EVERY_US: u64 = 1_000_000;

/// What a simulated person is asked while the board prints, and does at once.
#[derive(Debug, Clone, Default)]
pub struct AskedOfHand(Arc<AtomicU8>);

impl AskedOfHand {
    const LET_GO: u8 = 1;
    const WIGGLE_PLUG: u8 = 2;

    /// To leave the control alone.
    pub fn let_go(&self) {
        self.0.fetch_max(Self::LET_GO, Ordering::AcqRel);
    }

    /// To wiggle the plug.
    pub fn wiggle_plug(&self) {
        self.0.fetch_max(Self::WIGGLE_PLUG, Ordering::AcqRel);
    }
}

/// Prints a simulation.
#[derive(Debug, Clone)]
pub struct BoardLines {
    asked: AskedOfHand,
    /// How much of it was done.
    obeyed: u8,
    simulation: Simulation,
    header: StreamText,
    samples: StreamText,
    /// A sample that a header goes before.
    waiting: Option<(u64, Vec<Code>)>,
    next_header_us: u64,
}

impl BoardLines {
    pub fn new(simulation: Simulation) -> Self {
        let header = Header {
            scale: simulation.scale(),
            rate_hz: Some(simulation.board().rate_hz),
            columns: simulation.names().map(str::to_owned).collect(),
            time_field: Some(0),
            time_count_us: 1,
        };
        Self {
            asked: AskedOfHand::default(),
            obeyed: 0,
            header: StreamText::new(header.clone(), Sums::Without),
            samples: StreamText::new(header, Sums::With),
            waiting: None,
            next_header_us: simulation.board().start_us,
            simulation,
        }
    }

    /// The same with a hand that does what is asked.
    #[must_use]
    pub fn asked(self, asked: AskedOfHand) -> Self {
        Self { asked, ..self }
    }

    fn obey(&mut self) {
        let asked = self.asked.0.load(Ordering::Acquire);
        if self.obeyed < AskedOfHand::LET_GO && asked >= AskedOfHand::LET_GO {
            self.simulation.let_go();
        }
        if self.obeyed < AskedOfHand::WIGGLE_PLUG && asked >= AskedOfHand::WIGGLE_PLUG {
            self.simulation.wiggle_plug();
        }
        self.obeyed = asked;
    }
}

impl LineSource for BoardLines {
    fn next_line(&mut self, out: &mut Vec<u8>) -> Option<u64> {
        if let Some((t_us, codes)) = self.waiting.take() {
            self.samples.write_sample(t_us, &codes, out);
            return Some(t_us);
        }
        self.obey();
        let sample = self.simulation.next_sample()?;
        let t_us = sample.t_us;
        if t_us >= self.next_header_us {
            self.waiting = Some((t_us, sample.codes.to_vec()));
            self.header.write_header(out);
            let behind = t_us - self.next_header_us;
            self.next_header_us += (behind / HEADER_EVERY_US + 1) * HEADER_EVERY_US;
        } else {
            self.samples.write_sample(t_us, sample.codes, out);
        }
        Some(t_us)
    }

    /// The board's power is cycled: its time begins at 0 with a header. A sample that was about to be printed is lost.
    fn power_cycle(&mut self) {
        self.simulation.power_cycle();
        self.waiting = None;
        self.next_header_us = 0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::files::sha256;
    use crate::link::{Cause, Counts, Decoder, Event, StreamOptions};
    use simulator::{Board, Chance, Purpose, SimUnit, scenario};
    use std::fmt::Write as _;

    fn simulation(change: impl FnOnce(&mut SimUnit)) -> Simulation {
        let mut unit = scenario("T1-pedal").unwrap();
        change(&mut unit);
        Simulation::new(&unit, 7).unwrap()
    }

    fn print(lines: &mut BoardLines, count: usize) -> String {
        let mut out = Vec::new();
        for _ in 0..count {
            lines.next_line(&mut out).unwrap();
        }
        String::from_utf8(out).unwrap()
    }

    fn sum(body: &str) -> u8 {
        body.bytes().fold(0, |sum, byte| sum ^ byte)
    }

    fn decode(text: &str) -> (Vec<(u64, Vec<u32>)>, Counts) {
        let mut samples = Vec::new();
        let mut decoder = Decoder::new(StreamOptions::default());
        decoder.feed(text.as_bytes(), 0, &mut |event| {
            if let Event::Sample { t_us, codes, .. } = event {
                samples.push((t_us, codes.iter().map(|code| code.0).collect()));
            }
        });
        (samples, *decoder.counts())
    }

    #[test]
    fn the_header_comes_first_and_each_second() {
        let text = print(&mut BoardLines::new(simulation(|_| ())), 3003);
        let header = "# pedalproof 1 bits=10 vref_mv=5000 rate_hz=1000 cols=t_us,pedal_a,pedal_b";
        let places: Vec<usize> = text
            .lines()
            .enumerate()
            .filter(|(_, l)| *l == header)
            .map(|(n, _)| n)
            .collect();
        assert_eq!(places, [0, 1001, 2002]);
        assert!(text.lines().nth(1).unwrap().starts_with("0,"));
        assert!(text.lines().nth(2).unwrap().starts_with("1000,"));
    }

    #[test]
    fn every_style_carries_the_same_samples() {
        let plain = simulation(|_| ()).run(2.5);
        let printed = print(&mut BoardLines::new(simulation(|_| ())), 2503);
        for separator in [",", ";", "\t", " "] {
            for (sums, end) in [(true, "\n"), (false, "\r\n")] {
                let restyled = printed.lines().map(|line| {
                    if line.starts_with('#') {
                        return format!("{line}{end}");
                    }
                    let body = line.split('*').next().unwrap().replace(',', separator);
                    let sum = sums.then(|| format!("*{:02X}", sum(&body)));
                    format!("{body}{}{end}", sum.unwrap_or_default())
                });
                let (samples, counts) = decode(&restyled.collect::<String>());
                assert_eq!(
                    (counts.samples, counts.headers, counts.rejected_total()),
                    (2500, 3, 0)
                );
                for (n, (t_us, codes)) in samples.iter().enumerate() {
                    assert_eq!(*t_us, plain.t_us[n]);
                    assert_eq!(codes[..], [plain.codes[0][n].0, plain.codes[1][n].0]);
                }
            }
        }
    }

    #[test]
    fn every_fault_of_the_line_is_found_and_counted_by_the_decoder() {
        let wrapping = simulation(|unit| unit.board = Board::default().wrapping_after(8.0));
        let printed = print(&mut BoardLines::new(wrapping), 20_000);
        let mut chance = Chance::new(3, Purpose::Lines);
        let (mut text, mut headers) = (String::new(), 0);
        let (mut good, mut bad_sums, mut garbage, mut lost) = (0, 0, 0, 0);
        let (mut missing, mut unseen) = (0, 0);
        for line in printed.lines() {
            if line.starts_with('#') {
                headers += 1;
                text.extend([line, "\n"]);
                continue;
            }
            if chance.happens(0.02) {
                lost += 1;
                unseen += 1;
                continue;
            }
            if chance.happens(0.005) {
                garbage += 1;
                text += "qx?!%a\n";
            }
            let (body, right) = line.split_once('*').unwrap();
            if chance.happens(0.01) {
                let wrong = u8::from_str_radix(right, 16).unwrap() ^ (1 << chance.below(8));
                bad_sums += 1;
                unseen += 1;
                writeln!(text, "{body}*{wrong:02X}").unwrap();
            } else {
                missing += if good > 0 { unseen } else { 0 };
                unseen = 0;
                good += 1;
                text.extend([line, "\n"]);
            }
        }
        assert!(bad_sums > 100 && garbage > 50 && lost > 200);
        let times = printed
            .lines()
            .filter_map(|l| l.split(',').next()?.parse().ok());
        let times: Vec<u64> = times.collect();
        assert_eq!(times.windows(2).filter(|w| w[1] < w[0]).count(), 1, "wraps");
        let (samples, seen) = decode(&text);
        assert_eq!(seen.lines, headers + good + bad_sums + garbage);
        assert_eq!((seen.samples, seen.headers), (good, headers));
        assert_eq!(seen.rejected(Cause::BadSum), bad_sums);
        assert_eq!(seen.rejected(Cause::NotANumber), garbage);
        assert_eq!(seen.rejected_total(), bad_sums + garbage);
        assert_eq!(seen.missing, missing);
        assert!(
            samples.windows(2).all(|w| w[0].0 < w[1].0),
            "time goes on over the wrap"
        );
    }

    #[test]
    fn due_times_do_not_wrap_though_the_lines_do() {
        let wrapping = simulation(|unit| unit.board = Board::default().wrapping_after(0.5));
        let mut lines = BoardLines::new(wrapping);
        let mut out = Vec::new();
        let due: Vec<u64> = (0..1000)
            .map(|_| lines.next_line(&mut out).unwrap())
            .collect();
        assert!(due.windows(2).all(|w| w[1] >= w[0] && w[1] - w[0] <= 1000));
        assert!(due[999] > 1 << 32);
        let text = String::from_utf8(out).unwrap();
        assert!(
            text.contains("\n4294966296,") && text.contains("\n0,"),
            "wraps through 0"
        );
    }

    #[test]
    fn a_power_cycle_begins_the_time_anew_with_a_header() {
        let mut lines = BoardLines::new(simulation(|_| ()));
        print(&mut lines, 500);
        lines.power_cycle();
        let text = print(&mut lines, 3);
        let begins: Vec<&str> = text.lines().map(|line| &line[..2]).collect();
        assert_eq!(begins, ["# ", "0,", "10"]);
    }

    /// Who is asked to let go does, and leaves it alone; who is asked to wiggle the plug loses contact again and again.
    #[test]
    fn the_hand_does_what_is_asked() {
        let asked = AskedOfHand::default();
        let simulation = Simulation::new(&scenario("T2-dial").unwrap(), 1).unwrap();
        let mut lines = BoardLines::new(simulation).asked(asked.clone());
        let mut lowest_and_highest = |count| {
            let samples = decode(&print(&mut lines, count)).0;
            let codes = || samples.iter().map(|(_, codes)| codes[0]);
            (codes().min().unwrap(), codes().max().unwrap())
        };
        lowest_and_highest(10_000);
        asked.let_go();
        lowest_and_highest(40_000); // what was begun is ended
        let (low, high) = lowest_and_highest(6000);
        assert!(high - low < 12, "at rest: {low} to {high}");
        asked.wiggle_plug();
        let (_, high) = lowest_and_highest(6000);
        assert!(high > 1000, "no wire, and the pull-up: {high}");
    }

    #[test]
    fn a_script_that_ends_ends_the_lines() {
        let short = simulation(|unit| unit.script = simulator::Script::board_ends());
        let mut lines = BoardLines::new(short);
        let mut out = Vec::new();
        let mut count = 0;
        while lines.next_line(&mut out).is_some() {
            count += 1;
        }
        assert_eq!(count, 6500 + 7);
    }

    #[test]
    fn one_seed_gives_one_stream() {
        let t3 = scenario("T3-lever").unwrap();
        let lines = |seed: u64| {
            let mut lines = BoardLines::new(Simulation::new(&t3, seed).unwrap());
            let mut out = Vec::new();
            for _ in 0..20_000 {
                lines.next_line(&mut out).unwrap();
            }
            out
        };
        assert_eq!(lines(11), lines(11));
        assert_ne!(lines(11), lines(12));
    }

    #[test]
    fn the_bytes_of_a_seed_stay_what_they_were() {
        // No outside value: these sums pin the promise that a seed gives the same bytes on every platform and after every
        // change. A change that means to alter the stream replaces them and says so in its commit.
        for (name, sum) in [
            ("T1-pedal", "92f9e6dd90baba09"),
            ("T2-pedal", "71fe3081b2196f1f"),
            ("T1-dial", "f90ea6f49532f246"),
            ("T4-dial", "64ab947cb7aac748"),
            ("T1-lever", "835c31b2ee600547"),
            ("T2-lever", "77f16d5eec4309dd"),
            ("T3-lever", "b660bd49e1c803a2"),
        ] {
            let mut lines = BoardLines::new(Simulation::new(&scenario(name).unwrap(), 1).unwrap());
            let mut out = Vec::new();
            for _ in 0..47_000 {
                lines.next_line(&mut out).unwrap();
            }
            assert_eq!(&sha256(&out)[..16], sum, "{name}");
        }
    }
}
