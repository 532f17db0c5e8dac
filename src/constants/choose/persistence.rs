//! The fault persistence: bad samples until the core stops.
//!
//! The core counts up by one for a bad sample and down by one for a good one, not below zero, and stops at the
//! persistence. For independent samples, each bad with probability p, the mean number of samples until then is the sum
//! of the mean first-passage times of that walk, `h(0) = 1/p`, `h(i) = 1/p + (1-p)/p h(i-1)` (birth-and-death chain, any
//! textbook). For small p it is that of a run of bad samples, reference file 30. Noise that follows itself makes false stops far
//! likelier.

use super::{Choice, ChooseError, ErrorKind, Margin};
use measure::statistics::normal_cdf;

/// Never fewer: one or two disturbed samples must not stop the machine. Common practice, no source.
const LEAST: u16 = 3;

/// A contact that is lost for so long and comes back is told of, milliseconds: a bounce of a worn or shaken contact lasts that long (common
/// practice, no source).
const CONTACT_LOSS_MS: f64 = 3.0;

/// A good unit must not stop by its noise more often than once in so many hours of power: ten years.
const HOURS_BETWEEN: f64 = 87_660.0;

/// Mean number of samples until the core's counter reaches `persistence`, when each sample is bad with probability `p`,
/// independently. Infinite for `p` of 0.
pub fn mean_samples_to_stop(p: f64, persistence: u16) -> f64 {
    let (mut step, mut total) = (0.0, 0.0);
    for i in 0..persistence {
        step = if i == 0 {
            1.0 / p
        } else {
            1.0 / p + (1.0 - p) / p * step
        };
        total += step;
    }
    total
}

/// The persistence for a board of `rate_hz` that must stop within `stop_within_ms`, when noise lies so many standard
/// deviations inside each limit.
pub(super) fn persistence(
    rate_hz: f64,
    stop_within_ms: f64,
    sigmas: &[f64],
    asked: Option<u16>,
) -> Result<(u16, Choice), ChooseError> {
    // One step more: the fault comes right after a sample, and the output is written at the end of a step.
    let allowed = (rate_hz * stop_within_ms / 1000.0 + 1e-9).floor() - 1.0;
    let most = super::to_code(allowed, u16::MAX);
    let p = sigmas
        .iter()
        .map(|sigma| normal_cdf(-sigma))
        .sum::<f64>()
        .min(1.0);
    let hours = |n: u16| mean_samples_to_stop(p, n) / rate_hz / 3600.0;
    let least = (LEAST..=most.max(LEAST)).find(|n| hours(*n) >= HOURS_BETWEEN);
    let nearest = sigmas.iter().copied().fold(f64::INFINITY, f64::min);
    let nearest = if nearest.is_finite() {
        format!("its nearest limit at {nearest:.1} sigma")
    } else {
        "no limit near".to_owned()
    };
    let Some(least) = least.filter(|least| *least <= most) else {
        return Err(ChooseError::new(
            ErrorKind::Fail,
            format!(
                "no fault persistence fits: {stop_within_ms} ms at {rate_hz} steps a second allow {most} bad samples, and \
                 noise with {nearest} needs {}: stop later, step faster, or find a quieter part",
                least.map_or_else(|| "more".to_owned(), |n| n.to_string())
            ),
        ));
    };
    // The output cannot rise meanwhile: what is left of the time is better spent on contacts that come back.
    let chosen = asked.unwrap_or((most / 2).max(least));
    if !(least..=most).contains(&chosen) {
        return Err(ChooseError::new(
            ErrorKind::Fail,
            format!(
                "a fault persistence of {chosen} was asked for: noise with {nearest} needs {least} at least, and {stop_within_ms} ms \
                 at {rate_hz} steps a second allow {most}"
            ),
        ));
    }
    let time_ms = (f64::from(chosen) + 1.0) * 1000.0 / rate_hz;
    let contact = (CONTACT_LOSS_MS * rate_hz / 1000.0).ceil();
    let after_contact = if contact < f64::from(chosen) {
        "the board runs on, its output held meanwhile"
    } else {
        "the board stops for good"
    };
    let choice = Choice {
        place: "persistence".to_owned(),
        channel: String::new(),
        what: "fault persistence",
        value: f64::from(chosen),
        unit: "samples",
        reason: format!(
            "{}: at most {most} stop in {stop_within_ms} ms, at least {least} keep false stops by noise more than ten years apart ({} with \
             {chosen}, {nearest}, independent samples); a contact lost for {CONTACT_LOSS_MS} ms is {contact} bad samples: {after_contact}",
            if asked.is_some() {
                "as asked"
            } else {
                "about half of the time allowed"
            },
            rarity(hours(chosen))
        ),
        margin: Margin::words(format!(
            "zero at the latest {time_ms:.1} ms after a reading has left its window, {:.1} ms before it must be (a broken wire takes up to \
             4 ms to that, with the parts of `pedalproof board`); reckoned for independent \
             samples: noise that follows itself, such as hum, stops it sooner",
            stop_within_ms - time_ms
        )),
    };
    Ok((chosen, choice))
}

fn rarity(hours: f64) -> String {
    if hours > 8766.0 * 1e6 {
        "more than a million years".to_owned()
    } else {
        format!("every {:.0} years", hours / 8766.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_walk_by_hand_and_against_runs() {
        // A fair coin: 2, 4, 6 samples for each level: 12 for three (by hand).
        assert!((mean_samples_to_stop(0.5, 3) - 12.0).abs() < 1e-12);
        assert!(mean_samples_to_stop(0.0, 3).is_infinite());
        // File 30: runs of 1, 2 and 3 at p = 0.001 take 1e3, 1.001e6, 1.001001e9 samples. The counter forgets a bad sample
        // only by a good one, so it is a little sooner: by less than 0.3 % here, never later.
        let path = concat!(
            env!("CARGO_MANIFEST_DIR"),
            "/tests/reference/30-fault-persistence.json"
        );
        let file: serde_json::Value =
            serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
        let mut seen = 0;
        for row in file["expected"]["table"].as_array().unwrap() {
            let (run, p) = (row["run"].as_u64().unwrap(), row["p"].as_f64().unwrap());
            let runs = row["mean_samples_until_first_run"].as_f64().unwrap();
            let walk = mean_samples_to_stop(p, u16::try_from(run).unwrap());
            assert!(walk <= runs * (1.0 + 1e-12), "{run} {p}");
            if p <= 0.001 && run <= 3 {
                assert!(walk > runs * 0.997, "{run} {p}: {walk} {runs}");
                seen += 1;
            }
        }
        assert!(seen >= 3);
    }

    /// The normal tail at 3 sigma is 0.00135 (tables): at 3 sigma and 1 kHz a persistence of 1 stops a good unit every 0.7 s, 3 about every 113 h.
    #[test]
    fn three_sigma_at_a_kilohertz() {
        let p = normal_cdf(-3.0);
        assert!((mean_samples_to_stop(p, 1) / 1000.0 - 0.74).abs() < 0.01);
        let hours = mean_samples_to_stop(p, 3) / 3.6e6;
        assert!((hours - 113.0).abs() < 1.0, "{hours}");
    }

    #[test]
    fn both_bounds() {
        let of = |ms, sigmas: &[f64]| persistence(1000.0, ms, sigmas, None);
        // By hand: 50 steps, one of them lost: 49 at most, half of it 24. A contact lost for 3 ms is 3 of them.
        let (n, choice) = of(50.0, &[30.0]).unwrap();
        assert_eq!(n, 24);
        assert!(
            choice
                .reason
                .contains("at most 49 stop in 50 ms, at least 3 keep"),
            "{}",
            choice.reason
        );
        assert!(
            choice
                .reason
                .contains("3 ms is 3 bad samples: the board runs on"),
            "{}",
            choice.reason
        );
        // By hand: each more sample is 740 times rarer: 113 h x 740 = 83 600 h for 4, less than ten years; 5 then, more than half of 7.
        assert_eq!(of(8.0, &[3.0]).unwrap().0, 5);
        let asked = |n| persistence(1000.0, 50.0, &[3.0], Some(n));
        assert_eq!(asked(9).unwrap().0, 9);
        assert!(asked(4).unwrap_err().words.contains("needs 5 at least"));
        assert!(asked(50).unwrap_err().words.contains("allow 49"));
        assert!(
            of(3.0, &[30.0])
                .unwrap_err()
                .words
                .contains("allow 2 bad samples")
        );
        assert!(of(50.0, &[-1.0]).is_err());
    }
}
