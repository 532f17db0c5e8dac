//! What a good control should read over its travel, and what the wiring costs.

use super::analysis::corners::corners;
use super::faults::percent;
use super::hookup::Hookup;
use super::network::Wiring;
use schemars::JsonSchema;
use serde::Serialize;

/// Source resistance up to which most microcontroller ADCs sample right without a capacitor at the pin, in ohms.
///
/// A common data-sheet figure, no standard: look into the sheet of the board's own controller.
pub const SAMPLING_LIMIT_OHM: f64 = 10_000.0;

/// Travels at which readings are stated: 0 to 100 % in steps of 10 %.
const ROWS: u32 = 10;

/// The reading at one travel, as fraction of the reference and as code.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ReadingRow {
    pub travel_pct: f64,
    /// Nominal reading, fraction of the reference.
    pub ratio: f64,
    pub ratio_low: f64,
    pub ratio_high: f64,
    pub code: u32,
    pub code_low: u32,
    pub code_high: u32,
}

/// What a good control reads and what the wiring costs.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Expected {
    pub rows: Vec<ReadingRow>,
    /// Full minus rest as fraction of the reference; negative for a falling signal.
    pub span_ratio: f64,
    pub span_code: f64,
    /// Span lost to pulls, divider and load, in percent of the unloaded span.
    pub span_lost_pct: f64,
    /// Largest departure from the unloaded reading, in percent of the unloaded span (signed).
    pub loading_error_pct: f64,
    /// Where it is largest, travel in percent.
    pub loading_error_at_pct: f64,
    /// Largest departure from the straight line through both ends, in percent of span (signed).
    pub nonlinearity_pct: f64,
    /// Where it is largest, travel in percent.
    pub nonlinearity_at_pct: f64,
    /// Largest resistance that the pin sees looking out, ohms.
    pub source_ohm: Option<f64>,
    /// Where, travel in percent.
    pub source_ohm_at_pct: Option<f64>,
    /// The limit it is held against: [`SAMPLING_LIMIT_OHM`].
    pub sampling_limit_ohm: f64,
    /// Whether it keeps to the limit.
    pub sampling_ok: Option<bool>,
    /// Relative change of the reading per relative change of the supply: 0 where the supply is the reference.
    pub supply_effect: f64,
    /// Change of the reading at full over the supply's tolerance, in codes either way; `None` without a tolerance.
    pub supply_shift_code: Option<f64>,
    /// Largest volts at the pin of a good control, and the reference: above it the ADC reads full scale.
    pub pin_max_v: f64,
    /// The ADC's reference, volts.
    pub reference_v: f64,
}

/// The expected reading of a hookup. Every good hookup has one: its pin is held and its supply is not shorted; `None`
/// when that fails all the same.
pub fn expected(hookup: &Hookup) -> Option<Expected> {
    let corners = corners(hookup);
    let rows = (0..=ROWS)
        .map(|k| row(hookup, &corners, f64::from(k) / f64::from(ROWS)))
        .collect::<Option<Vec<_>>>()?;
    let read = |travel: f64| hookup.pin(travel, None).ratio();
    let (rest, full) = (read(0.0)?, read(1.0)?);
    let span = full - rest;
    let unloaded = Unloaded::of(hookup)?;
    let (bare_rest, bare_full) = (unloaded.ratio(0.0)?, unloaded.ratio(1.0)?);
    let bare_span = bare_full - bare_rest;
    let (loading, loading_at) =
        largest(|t| Some((read(t)? - unloaded.ratio(t)?) / bare_span.abs() * 100.0))?;
    let (bow, bow_at) = largest(|t| Some((read(t)? - rest - span * t) / span.abs() * 100.0))?;
    let source = largest(|t| hookup.source_ohm(t));
    let codes = f64::from(hookup.scale().codes());
    let pin_max_v = corners
        .iter()
        .flat_map(|corner| [0.0, 1.0].map(|t| corner.volts(t, None).ok().flatten()))
        .collect::<Option<Vec<f64>>>()?
        .into_iter()
        .fold(0.0, f64::max);
    let ratiometric = hookup.wiring().supply_is_reference;
    Some(Expected {
        rows,
        span_ratio: span,
        span_code: span * codes,
        span_lost_pct: (1.0 - span / bare_span) * 100.0,
        loading_error_pct: loading,
        loading_error_at_pct: percent(loading_at),
        nonlinearity_pct: bow,
        nonlinearity_at_pct: percent(bow_at),
        source_ohm: source.map(|(ohm, _)| ohm),
        source_ohm_at_pct: source.map(|(_, at)| percent(at)),
        sampling_limit_ohm: SAMPLING_LIMIT_OHM,
        sampling_ok: source.map(|(ohm, _)| ohm <= SAMPLING_LIMIT_OHM),
        // Every part is linear: the pin's volts go with the supply, one to one.
        supply_effect: if ratiometric { 0.0 } else { 1.0 },
        supply_shift_code: hookup
            .wiring()
            .supply_tolerance_pct()
            .map(|pct| full.max(rest) * pct / 100.0 * codes),
        pin_max_v,
        reference_v: hookup.scale().vref_mv() / 1000.0,
    })
}

fn row(hookup: &Hookup, corners: &[Hookup], travel: f64) -> Option<ReadingRow> {
    let ratio = hookup.pin(travel, None).ratio()?;
    let (low, high) = band(hookup, corners, travel)?;
    Some(ReadingRow {
        travel_pct: percent(travel),
        ratio,
        ratio_low: low,
        ratio_high: high,
        code: hookup.code(ratio),
        code_low: hookup.code(low),
        code_high: hookup.code(high),
    })
}

/// Lowest and highest good reading at a travel over the corners.
pub fn band(hookup: &Hookup, corners: &[Hookup], travel: f64) -> Option<(f64, f64)> {
    let nominal = hookup.pin(travel, None).ratio()?;
    corners
        .iter()
        .try_fold((nominal, nominal), |(low, high), corner| {
            let ratio = corner.pin(travel, None).ratio()?;
            Some((low.min(ratio), high.max(ratio)))
        })
}

/// The value that lies farthest from zero over 0 to 100 % of travel in steps of 0.5 %, and where.
fn largest(value: impl Fn(f64) -> Option<f64>) -> Option<(f64, f64)> {
    (0..=200)
        .map(|k| f64::from(k) / 200.0)
        .filter_map(|t| value(t).map(|v| (v, t)))
        .filter(|(v, _)| v.is_finite())
        .reduce(|best, next| {
            if next.0.abs() > best.0.abs() + 1e-12 {
                next
            } else {
                best
            }
        })
}

/// The same control with nothing drawing on it: what loading is held against. A divider is kept as the ratio that it is
/// meant to be; a rheostat keeps its pull-up, without which it has no reading.
struct Unloaded {
    hookup: Hookup,
    divider: f64,
}

impl Unloaded {
    fn of(hookup: &Hookup) -> Option<Self> {
        let w = *hookup.wiring();
        let bare = Wiring {
            network: w.network.with_pull_up(None),
            pull_down_ohm: None,
            divider: None,
            load_ohm: None,
            ..w
        };
        Some(Self {
            hookup: hookup.with(bare).ok()?,
            divider: w.divider.map_or(1.0, |divider| divider.ratio()),
        })
    }

    /// From volts, not from a pin's reading: before the divider it may lie above the reference.
    fn ratio(&self, travel: f64) -> Option<f64> {
        let volts = self.hookup.volts(travel, None).ok()??;
        Some(volts * self.divider * 1000.0 / self.hookup.scale().vref_mv())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn hookup(text: &str, supply_mv: f64) -> Hookup {
        Hookup::new(serde_json::from_str(text).unwrap(), supply_mv, 10).unwrap()
    }

    #[test]
    fn loaded_tracks_of_file_07() {
        let file: serde_json::Value = serde_json::from_str(include_str!(
            "../../tests/reference/07-circuits-and-faults.json"
        ))
        .unwrap();
        for row in file["expected"]["loaded_pot"].as_array().unwrap() {
            let load = row["load_ohm"].as_f64().unwrap();
            let text = format!(
                r#"{{"supply_is_reference":true,"network":"three-wire","track_ohm":10000,"load_ohm":{load}}}"#
            );
            let hookup = hookup(&text, 5000.0);
            for (k, want) in row["ratio_at_travel"]
                .as_array()
                .unwrap()
                .iter()
                .enumerate()
            {
                let travel = [0.0, 0.25, 0.5, 0.75, 1.0][k];
                let got = hookup.pin(travel, None).ratio().unwrap();
                assert!((got - want.as_f64().unwrap()).abs() < 1e-9);
            }
            let got = expected(&hookup).unwrap();
            let want = row["largest_departure_pct_of_supply"].as_f64().unwrap();
            // The file's largest is over a finer travel; ours over steps of 0.5 %: flat there, so 0.01 % of it.
            assert!((got.loading_error_pct / want - 1.0).abs() < 1e-4);
            let at = row["at_travel"].as_f64().unwrap() * 100.0;
            assert!((got.loading_error_at_pct - at).abs() <= 0.5);
            // The ends are stiff, so the line through them is the unloaded line: the same departure.
            assert!((got.nonlinearity_pct - got.loading_error_pct).abs() < 1e-9);
            assert!(got.span_lost_pct.abs() < 1e-9);
        }
    }

    #[test]
    fn source_resistance_of_a_bare_track_is_a_quarter_of_it_at_half() {
        // x (1 - x) R, largest at half: R/4. By hand. 20 k keeps to 10 k, 50 k (12.5 k) does not.
        let small = expected(&hookup(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#,
            5000.0,
        ));
        let small = small.unwrap();
        assert!((small.source_ohm.unwrap() - 5000.0).abs() < 1e-6);
        assert!((small.source_ohm_at_pct.unwrap() - 50.0).abs() < 1e-9);
        assert_eq!(small.sampling_ok, Some(true));
        let large = expected(&hookup(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":50000}"#,
            5000.0,
        ));
        assert_eq!(large.unwrap().sampling_ok, Some(false));
    }

    #[test]
    fn the_supply_cancels_only_where_it_is_the_reference() {
        let own = expected(&hookup(
            r#"{"supply_is_reference":true,"network":"three-wire","track_ohm":20000}"#,
            5000.0,
        ));
        assert!(own.unwrap().supply_effect.abs() < 1e-12);
        let apart = expected(&hookup(
            r#"{"network":"buffered","output_ohm":100,"low_ratio":0.16,"high_ratio":0.84,"divider_top_ohm":10000,
                "divider_bottom_ohm":15000,"reference_mv":3300,"supply_tolerance_pct":5}"#,
            5000.0,
        ))
        .unwrap();
        assert!((apart.supply_effect - 1.0).abs() < 1e-12);
        // Full: 4.2 V x 15/25.1 = 2.50996 V of 3.3 V = 778.8 codes; 5 % of it 38.94. By hand.
        assert!((apart.supply_shift_code.unwrap() - 38.942).abs() < 0.01);
        // 100 ohm in front of 25 k takes 0.1/25.1 of the span.
        assert!((apart.span_lost_pct - 100.0 * 0.1 / 25.1).abs() < 1e-9);
    }

    #[test]
    fn corners_of_file_07() {
        let file: serde_json::Value = serde_json::from_str(include_str!(
            "../../tests/reference/07-circuits-and-faults.json"
        ))
        .unwrap();
        for row in file["expected"]["rheostat_corners"].as_array().unwrap() {
            let text = format!(
                r#"{{"supply_is_reference":true,"network":"rheostat","track_ohm":{},"pull_up_ohm":{},"tolerance_pct":{},"track_tolerance_pct":{}}}"#,
                row["track_ohm"],
                row["pullup_ohm"],
                row["pullup_tolerance"].as_f64().unwrap() * 100.0,
                row["track_tolerance"].as_f64().unwrap() * 100.0,
            );
            let hookup = hookup(&text, 5000.0);
            let corners = corners(&hookup);
            for (travel, want) in row["ratio_by_travel"].as_object().unwrap() {
                let travel: f64 = travel.parse().unwrap();
                let (low, high) = band(&hookup, &corners, travel).unwrap();
                assert!((low - want["lowest"].as_f64().unwrap()).abs() < 1e-9);
                assert!((high - want["highest"].as_f64().unwrap()).abs() < 1e-9);
                let nominal = hookup.pin(travel, None).ratio().unwrap();
                assert!((nominal - want["nominal"].as_f64().unwrap()).abs() < 1e-9);
            }
        }
    }
}
