//! How often the first cause is right, by cause, profile and strength: the confusion matrix.
//!
//! `cargo test --test suite diagnose::matrix::` draws a moderate number; the table of `docs/causes.md` is made by
//! `PEDALPROOF_PARTS=4000 cargo test --release --test suite diagnose::matrix::thousands -- --ignored --nocapture`.

use super::chance::Chance;
use super::circuit::Volts;
use super::part::{PROFILES, Part, WORDS, can_be};
use super::recording::record;
use measure::judge::Verdict;
use pedalproof::{bench, diagnose::CauseWord, profile};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// What came of one part.
struct Told {
    part: Part,
    seed: u64,
    verdict: Option<Verdict>,
    headline: String,
    causes: Vec<CauseWord>,
    remedies: Vec<String>,
    /// Words that the circuit itself cannot tell from the true ones: the same volts at every place.
    same: Vec<&'static str>,
}

fn word(cause: CauseWord) -> String {
    serde_json::to_value(cause)
        .unwrap()
        .as_str()
        .unwrap()
        .to_owned()
}

/// Two causes that do not hide each other.
const BESIDE: [&str; 5] = [
    "worn-track",
    "loose-wiper",
    "sticky-return",
    "mains-hum",
    "loose-connection",
];
const FIRST: [&str; 8] = [
    "worn-track",
    "loose-wiper",
    "loose-connection",
    "sticky-return",
    "mains-hum",
    "interference",
    "backwards",
    "wrong-supply",
];

/// A part by its number: each word, profile and strength comes in turn; every fifth has two causes.
fn drawn(number: u64) -> Part {
    let chance = &mut Chance::new(number);
    let mut turn = number as usize;
    loop {
        let word = WORDS[turn % WORDS.len()];
        let profile = PROFILES[(turn / WORDS.len()) % PROFILES.len()];
        let strength = (turn / 7 + turn / WORDS.len() / PROFILES.len()) % 3;
        turn += WORDS.len();
        let two = number % 5 == 4;
        let part = Part::good(profile, chance);
        if two {
            let first = chance.one_of(&FIRST);
            let second = chance.one_of(&BESIDE);
            if first == second || !can_be(first, profile) || !can_be(second, profile) {
                continue;
            }
            let part = part.with(first, strength, chance);
            return part.with(second, chance.one_of(&[0, 1, 2]), chance);
        }
        if can_be(word, profile) {
            return part.with(word, strength, chance);
        }
    }
}

fn told(part: Part, seed: u64) -> Told {
    let capture = record(&part, &mut Chance::new(seed ^ 0xFACE));
    let profile = profile::find(part.checked_as).unwrap();
    let assessment = bench::assess(&capture, Some(&profile)).unwrap();
    let diagnosis = assessment.diagnosis;
    Told {
        same: same_volts(&part),
        seed,
        verdict: assessment.verdict,
        headline: diagnosis.headline,
        causes: diagnosis.causes.iter().map(|cause| cause.cause).collect(),
        remedies: diagnosis
            .causes
            .into_iter()
            .flat_map(|cause| cause.remedies)
            .collect(),
        part,
    }
}

/// Volts over the whole way.
fn over_travel(part: &Part) -> Vec<Volts> {
    let n = part.circuit.tracks.len();
    (0..=10)
        .map(|k| {
            part.circuit
                .read(&vec![f64::from(k) / 10.0; n], &vec![false; n])
        })
        .collect()
}

/// Wiring faults whose volts are those of this part's everywhere, within a hundredth of the supply.
fn same_volts(part: &Part) -> Vec<&'static str> {
    const ELECTRICAL: [&str; 6] = [
        "no-supply",
        "no-ground",
        "signal-open",
        "signal-shorted",
        "backwards",
        "tracks-swapped",
    ];
    let [defect] = &part.defects[..] else {
        return Vec::new();
    };
    if !ELECTRICAL.contains(&defect.word) {
        return Vec::new();
    }
    let mine = over_travel(part);
    let alike = |other: &Part| {
        let theirs = over_travel(other);
        mine.iter()
            .flatten()
            .zip(theirs.iter().flatten())
            .all(|(a, b)| match (a, b) {
                (Some(a), Some(b)) => (a - b).abs() < 0.01 * part.circuit.supply_v,
                (None, None) => true,
                _ => false,
            })
    };
    let mut same = Vec::new();
    for other in ELECTRICAL {
        if other == defect.word || !can_be(other, part.made_as) {
            continue;
        }
        // The same part with that fault in place of its own, in each of its forms.
        for form in 0..24 {
            let good = Part::good(part.made_as, &mut Chance::new(part_seed(part)));
            let other = good.with(other, 2, &mut Chance::new(form));
            if alike(&other) {
                same.push(other.defects[0].word);
                break;
            }
        }
    }
    same
}

/// Any good part of the kind will do where a fault hides its tolerances.
fn part_seed(_: &Part) -> u64 {
    1
}

/// Counts over many parts.
#[derive(Default)]
struct Count {
    parts: usize,
    first: usize,
    first_or_same: usize,
    two: usize,
    silent: usize,
}

impl Count {
    fn add(&mut self, told: &Told) {
        let truths: Vec<&str> = told.part.defects.iter().map(|d| d.word).collect();
        let right = |cause: &CauseWord| truths.contains(&word(*cause).as_str());
        let same = |cause: &CauseWord| told.same.contains(&word(*cause).as_str());
        self.parts += 1;
        self.first += usize::from(told.causes.first().is_some_and(right));
        self.first_or_same += usize::from(
            told.causes
                .first()
                .is_some_and(|cause| right(cause) || same(cause)),
        );
        self.two += usize::from(told.causes.iter().take(2).any(|c| right(c) || same(c)));
        self.silent += usize::from(told.causes.is_empty());
    }

    fn row(&self) -> String {
        let pct = |n: usize| 100.0 * n as f64 / self.parts.max(1) as f64;
        format!(
            "{:5} | {:5.1} | {:5.1} | {:5.1} | {:5.1}",
            self.parts,
            pct(self.first),
            pct(self.first_or_same),
            pct(self.two),
            pct(self.silent)
        )
    }
}

/// Draws parts and counts, in both cores.
fn run(numbers: std::ops::Range<u64>, draw: fn(u64) -> Part) -> Vec<Told> {
    let half = numbers.start + (numbers.end - numbers.start) / 2;
    let each = |range: std::ops::Range<u64>| {
        range
            .map(|number| told(draw(number), number))
            .collect::<Vec<_>>()
    };
    std::thread::scope(|scope| {
        let second = scope.spawn(move || each(half..numbers.end));
        let mut all = each(numbers.start..half);
        all.extend(second.join().unwrap());
        all
    })
}

/// The table, and what went wrong one line each.
fn table(all: &[Told]) -> String {
    let mut text = String::new();
    // A part that its profile lets pass has nothing to be explained.
    let passed = all
        .iter()
        .filter(|told| told.verdict == Some(Verdict::Pass))
        .count();
    let all = || {
        all.iter()
            .filter(|told| told.verdict != Some(Verdict::Pass))
    };
    let mut by_word: BTreeMap<&str, Count> = BTreeMap::new();
    let mut by_profile: BTreeMap<&str, Count> = BTreeMap::new();
    let mut confused: BTreeMap<(&str, String), usize> = BTreeMap::new();
    for told in all() {
        by_profile.entry(told.part.made_as).or_default().add(told);
        if let [defect] = &told.part.defects[..] {
            by_word.entry(defect.word).or_default().add(told);
            let first = told.causes.first().map_or("-".to_owned(), |c| word(*c));
            if first != defect.word {
                *confused.entry((defect.word, first)).or_default() += 1;
            }
        } else {
            by_word.entry("two at once").or_default().add(told);
        }
    }
    let mut total = Count::default();
    all().for_each(|told| total.add(told));
    let _ = writeln!(text, "{passed} passed their profile");
    for (name, count) in by_word.iter().chain(&by_profile) {
        let _ = writeln!(text, "{name:24} | {}", count.row());
    }
    let _ = writeln!(text, "{:24} | {}", "all", total.row());
    for ((truth, first), n) in confused {
        let _ = writeln!(text, "{truth} -> {first}: {n}");
    }
    text
}

fn parts(normal: u64) -> u64 {
    std::env::var("PEDALPROOF_PARTS").map_or(normal, |n| n.parse().unwrap())
}

#[test]
#[ignore = "minutes: see the head of this file"]
fn thousands() {
    let all = run(0..parts(4000), drawn);
    println!("{}", table(&all));
    for told in all
        .iter()
        .filter(|told| std::env::var("PEDALPROOF_WRONG").is_ok() && !right(told))
    {
        println!(
            "{} {} {:?} {:?}b {:?}: {} {:?}",
            told.seed,
            told.part.checked_as,
            told.part.defects,
            told.part.bits,
            told.verdict,
            told.headline,
            told.causes
        );
    }
}

fn right(told: &Told) -> bool {
    let mut count = Count::default();
    count.add(told);
    count.first_or_same == 1
}

fn good(number: u64) -> Part {
    let chance = &mut Chance::new(number ^ 0x600D);
    Part::good(PROFILES[number as usize % PROFILES.len()], chance)
}

/// A part that is innocent is not to be replaced for its wiring, its room or its board.
fn blamed(told: &Told) -> bool {
    const INNOCENT: [&str; 12] = [
        "loose-connection",
        "tracks-swapped",
        "tracks-joined",
        "no-supply",
        "no-ground",
        "signal-open",
        "signal-shorted",
        "wrong-supply",
        "mains-hum",
        "interference",
        "board-noise",
        "board-nonlinear",
    ];
    let innocent = told.part.defects.iter().all(|d| INNOCENT.contains(&d.word));
    innocent && told.headline.starts_with("DO NOT FIT")
}

#[test]
#[ignore = "minutes: see the head of this file"]
fn thousands_of_good_ones() {
    let all = run(0..parts(1000), good);
    let named = all.iter().filter(|told| !told.causes.is_empty());
    println!(
        "good parts: {} of {} with a cause",
        named.clone().count(),
        all.len()
    );
    let verdicts = |v| all.iter().filter(|told| told.verdict == Some(v)).count();
    println!(
        "pass {}, fail {}, undecided {}",
        verdicts(Verdict::Pass),
        verdicts(Verdict::Fail),
        verdicts(Verdict::Undecided)
    );
    for told in named {
        println!(
            "{} {} {:?}: {} {:?}",
            told.seed, told.part.made_as, told.verdict, told.headline, told.causes
        );
    }
}

#[test]
fn the_first_cause_is_right() {
    let all = run(20_000..20_000 + parts(69), drawn);
    let table = table(&all);
    println!("{table}");
    let mut count = Count::default();
    let refused = all
        .iter()
        .filter(|told| told.verdict != Some(Verdict::Pass));
    refused.for_each(|told| count.add(told));
    let blamed = all.iter().filter(|told| blamed(told)).count();
    assert!(count.first_or_same * 100 >= count.parts * 85, "{table}");
    assert_eq!(blamed, 0, "{table}");
    let told = all.iter().filter(|told| !told.causes.is_empty());
    // Told outside the screen, too: no key of it is named.
    let remedies =
        |told: &Told| !told.remedies.is_empty() && !told.remedies.join(" ").contains("(r");
    assert!(told.into_iter().all(remedies));
}
