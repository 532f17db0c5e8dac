//! The pull-up of a rheostat: the one that gives most span, what a value one can buy costs, and how straight the
//! reading is before and after the divider is taken out of it.

use super::analysis::corners::corners;
use super::curve::Curve;
use super::e_series::{Pick, Series};
use super::hookup::Hookup;
use super::network::{Network, Wiring};
use schemars::JsonSchema;
use serde::Serialize;

/// Most current through a wiper that a carbon or cermet track is usually allowed, in milliamperes.
///
/// Common practice, no source: look into the part's own sheet. Used only where span alone would have the pull-up vanish.
pub const WIPER_MA: f64 = 1.0;

/// One value of the pull-up and what it does.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PullUpRow {
    /// Why it is in the list: `as wired`, `E24`, `E96`.
    pub from: &'static str,
    pub ohm: f64,
    pub span_ratio: f64,
    pub span_code: f64,
    /// Span given away against the best pull-up, in percent of that; `None` when there is no best.
    pub cost_pct: Option<f64>,
    /// Largest departure of the reading from the line through its ends, in percent of span.
    pub nonlinearity_pct: f64,
    /// The same after the divider's nominal inverse, at the worst corner of the tolerances, in percent of travel.
    pub linearised_pct: f64,
    pub least_codes_per_pct: f64,
    pub wiper_ma: f64,
}

/// The choice of a rheostat's pull-up.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PullUpChoice {
    /// Resistance at the end of travel where it is least, with its end resistor, ohms.
    pub least_ohm: f64,
    /// Resistance at the other end, ohms.
    pub most_ohm: f64,
    /// The pull-up of most span, ohms; `None` when the control reaches 0 ohm: then less is always more.
    pub best_ohm: Option<f64>,
    pub best_span_ratio: Option<f64>,
    /// As wired, and values one can buy.
    pub rows: Vec<PullUpRow>,
    pub note: String,
}

/// The pull-up that gives a rheostat running from `least` to `most` ohms the largest span, and that span as a fraction of
/// the supply. `None` unless `0 < least < most`.
///
/// Source: the derivative of `most/(most + r) - least/(least + r)` is zero at `r = sqrt(least most)`.
pub fn best_pull_up(least: f64, most: f64) -> Option<(f64, f64)> {
    (least > 0.0 && least < most && most.is_finite()).then(|| {
        let ohm = (least * most).sqrt();
        (ohm, most / (most + ohm) - least / (least + ohm))
    })
}

/// The position (0 ground end, 1 far end) of a rheostat that reads `ratio` of the supply: the divider's inverse.
///
/// `pull_share` is pull-up over track, `end_share` the low end resistor over the track. `None` at and above full scale,
/// where no resistance reads so.
pub fn rheostat_position(ratio: f64, pull_share: f64, end_share: f64) -> Option<f64> {
    (ratio < 1.0).then(|| pull_share * ratio / (1.0 - ratio) - end_share)
}

/// A rheostat whose divider has nothing else in it: what its reading can be taken back to travel by.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BareRheostat {
    pub pull_share: f64,
    pub rest_position: f64,
    pub full_position: f64,
}

/// The bare divider of a rheostat wired so; `None` for another network, and where a pull-down, a load, an input divider or
/// a reference other than the supply makes it another curve.
pub fn bare_rheostat(wiring: &Wiring) -> Option<BareRheostat> {
    let Network::Rheostat { track, pull_up_ohm } = &wiring.network else {
        return None;
    };
    let bare = wiring.pull_down_ohm.is_none()
        && wiring.load_ohm.is_none()
        && wiring.divider.is_none()
        && wiring.reference.is_none();
    bare.then(|| BareRheostat {
        pull_share: pull_up_ohm / track.ohm,
        rest_position: wiring.rest_position(),
        full_position: wiring.full_position(),
    })
}

/// The choice for a rheostat; `None` for any other network.
pub fn choose(hookup: &Hookup) -> Option<PullUpChoice> {
    let w = hookup.wiring();
    let Network::Rheostat { track, pull_up_ohm } = &w.network else {
        return None;
    };
    let wired = *pull_up_ohm;
    let (least, most) = w.resistance_range(track);
    let best = best_pull_up(least, most);
    let smallest = (hookup.supply_mv() / WIPER_MA - least).max(0.0);
    let mut rows = vec![row(hookup, "as wired", wired, best, least)?];
    for (from, series) in [("E24", Series::E24), ("E96", Series::E96)] {
        let ohm = match best {
            Some((ohm, _)) => series.pick(ohm, Pick::Nearest),
            None => series.pick(smallest, Pick::Up),
        };
        if let Some(ohm) = ohm {
            rows.push(row(hookup, from, ohm, best, least)?);
        }
    }
    Some(PullUpChoice {
        least_ohm: least,
        most_ohm: most,
        best_ohm: best.map(|(ohm, _)| ohm),
        best_span_ratio: best.map(|(_, span)| span),
        note: note(best.map(|(ohm, _)| ohm), smallest, wired),
        rows,
    })
}

fn note(best: Option<f64>, smallest: f64, wired: f64) -> String {
    match best {
        Some(best) if best < smallest => format!(
            "the pull-up of most span draws more than {WIPER_MA} mA through the wiper (a common figure, see the part's \
             sheet); from {smallest:.0} ohm up it does not"
        ),
        Some(_) => {
            "most span where the pull-up is the geometric mean of both end resistances".to_owned()
        }
        None if wired < smallest => format!(
            "the control reaches 0 ohm: the smaller the pull-up the larger the span; as wired it draws more than \
             {WIPER_MA} mA through the wiper (a common figure, see the part's sheet), from {smallest:.0} ohm up it does not"
        ),
        None => format!(
            "the control reaches 0 ohm: the smaller the pull-up the larger the span, until the wiper carries too much; \
             the values listed keep to {WIPER_MA} mA (a common figure, see the part's sheet)"
        ),
    }
}

fn row(
    hookup: &Hookup,
    from: &'static str,
    ohm: f64,
    best: Option<(f64, f64)>,
    least: f64,
) -> Option<PullUpRow> {
    let wired = hookup.wiring();
    let tried = hookup
        .with(Wiring {
            network: wired.network.with_pull_up(Some(ohm)),
            ..*wired
        })
        .ok()?;
    let span = Curve::of(&tried).span().abs();
    let codes = f64::from(hookup.scale().codes());
    let per_pct = (0..100).filter_map(|k| {
        let (a, b) = (f64::from(k) / 100.0, f64::from(k + 1) / 100.0);
        Some((tried.pin(b, None).ratio()? - tried.pin(a, None).ratio()?).abs() * codes)
    });
    Some(PullUpRow {
        from,
        ohm,
        span_ratio: span,
        span_code: span * codes,
        cost_pct: best.map(|(_, most)| {
            // In the same unit: the supply's share of the reference cancels out of a relative cost.
            let share = span * hookup.scale().vref_mv() / hookup.supply_mv();
            (1.0 - share / most) * 100.0
        }),
        nonlinearity_pct: bow(|t| tried.pin(t, None).ratio())?,
        linearised_pct: linearised(&tried)?,
        least_codes_per_pct: per_pct.reduce(f64::min)?,
        wiper_ma: hookup.supply_mv() / (ohm + least),
    })
}

/// What is left at the worst corner once the reading went through the nominal curve's inverse and the line through its
/// ends, in percent of travel: the end points of a unit are measured, its curve is assumed.
fn linearised(hookup: &Hookup) -> Option<f64> {
    let curve = Curve::of(hookup);
    corners(hookup)
        .iter()
        .map(|corner| {
            bow(|t| {
                corner
                    .pin(t, None)
                    .ratio()
                    .map(|ratio| extended(hookup, &curve, ratio))
            })
        })
        .collect::<Option<Vec<f64>>>()
        .map(|all| all.into_iter().fold(0.0, f64::max))
}

/// The nominal inverse, carried on beyond the nominal ends by the divider itself where it is a bare one.
fn extended(hookup: &Hookup, curve: &Curve, ratio: f64) -> f64 {
    let w = hookup.wiring();
    let position = bare_rheostat(w)
        .zip(w.network.track())
        .and_then(|(bare, track)| {
            let end_share = track.end_low_ohm.unwrap_or(0.0) / track.ohm;
            rheostat_position(ratio, bare.pull_share, end_share)
        });
    match position {
        Some(position) => (position - w.rest_position()) / (w.full_position() - w.rest_position()),
        None => curve.travel_of(ratio),
    }
}

/// Largest departure from the line through both ends, in percent of the distance of the ends.
fn bow(value: impl Fn(f64) -> Option<f64>) -> Option<f64> {
    let (rest, full) = (value(0.0)?, value(1.0)?);
    let span = full - rest;
    (1..200)
        .map(|k| f64::from(k) / 200.0)
        .map(|t| Some(((value(t)? - rest - span * t) / span).abs() * 100.0))
        .try_fold(0.0, |worst: f64, next| next.map(|next| worst.max(next)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn dial(text: &str) -> Hookup {
        Hookup::new(serde_json::from_str(text).unwrap(), 5000.0, 10).unwrap()
    }

    #[test]
    fn best_pull_ups_of_file_07() {
        let file: serde_json::Value = serde_json::from_str(include_str!(
            "../../tests/reference/07-circuits-and-faults.json"
        ))
        .unwrap();
        for row in file["expected"]["best_pullup"].as_array().unwrap() {
            let number = |key: &str| row[key].as_f64().unwrap();
            let (ohm, span) = best_pull_up(number("r_min"), number("r_max")).unwrap();
            assert!((ohm / number("pullup_ohm") - 1.0).abs() < 1e-9);
            assert!((span - number("span_ratio")).abs() < 1e-9);
        }
    }

    #[test]
    fn no_best_where_there_is_none() {
        for (least, most) in [
            (0.0, 1e4),
            (1e4, 1e4),
            (2e4, 1e4),
            (f64::NAN, 1e4),
            (1.0, f64::INFINITY),
        ] {
            assert_eq!(best_pull_up(least, most), None);
        }
    }

    #[test]
    fn the_inverse_takes_the_divider_out() {
        // 4.7 k over 10 k: a quarter of the track reads 2.5/7.2 (file 07).
        let position = rheostat_position(2.5 / 7.2, 0.47, 0.0).unwrap();
        assert!((position - 0.25).abs() < 1e-12);
        assert_eq!(rheostat_position(1.0, 0.47, 0.0), None);
    }

    #[test]
    fn a_dial_with_end_resistance_and_a_value_to_buy() {
        // 1 k to 10 k: best 3162 ohm, span 0.5195 (file 07); E24 3.3 k, E96 3.16 k (file 08).
        let choice = choose(&dial(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":9000,"end_low_ohm":1000,"pull_up_ohm":4700,"tolerance_pct":5}"#,
        ))
        .unwrap();
        assert!((choice.best_ohm.unwrap() - 3_162.277_66).abs() < 1e-3);
        let ohms: Vec<f64> = choice.rows.iter().map(|row| row.ohm).collect();
        assert_eq!(ohms, [4700.0, 3300.0, 3160.0]);
        // 3.3 k: 10/13.3 - 1/4.3 = 0.519321, 0.033 % below 0.519494. By hand.
        assert!((choice.rows[1].cost_pct.unwrap() - 0.0333).abs() < 1e-3);
        assert!(choice.rows[0].cost_pct.unwrap() > choice.rows[1].cost_pct.unwrap());
    }

    #[test]
    fn a_dial_that_reaches_zero_has_no_best_and_the_bow_is_taken_out() {
        let choice = choose(&dial(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700}"#,
        ))
        .unwrap();
        assert_eq!(choice.best_ohm, None);
        assert!(choice.note.contains("reaches 0 ohm"), "{}", choice.note);
        let wired = &choice.rows[0];
        // x/(x+0.47) against x/(1.47) over its span 1/1.47: largest where x + 0.47 = sqrt(0.47 x 1.47), x = 0.3612:
        // 1.47 x 0.3612/0.8312 - 0.3612 = 0.2776. By hand.
        assert!(
            (wired.nonlinearity_pct - 27.76).abs() < 0.01,
            "{}",
            wired.nonlinearity_pct
        );
        assert!(wired.linearised_pct < 1e-9, "{}", wired.linearised_pct);
        assert!((wired.wiper_ma - 5000.0 / 4700.0).abs() < 1e-9);
    }

    #[test]
    fn only_a_rheostat_has_a_choice() {
        assert_eq!(
            choose(&dial(
                r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":10000}"#
            )),
            None
        );
    }

    #[test]
    fn tolerances_leave_nothing_of_a_bow_in_a_control_that_starts_at_zero_ohm() {
        // With both ends measured a bare rheostat from 0 ohm is `k x` after the nominal inverse: straight at any tolerance.
        let choice = choose(&dial(
            r#"{"supply_is_reference":true,"network":"rheostat","track_ohm":10000,"pull_up_ohm":4700,"tolerance_pct":20}"#,
        ))
        .unwrap();
        assert!(choice.rows[0].linearised_pct < 1e-9);
    }
}
