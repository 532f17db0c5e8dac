//! Limits that go with a change of the wiring.

use crate::wiring::analysis::corners::good_corners;
use crate::wiring::curve::Curve;
use crate::wiring::hookup::Hookup;
use crate::wiring::reading;
use crate::wiring::valid::EndLimits;

/// The profile's limits, moved as far as the nominal ends of travel move with the change, mirrored where the ends change sides,
/// wide enough for the tolerances where they were before, and no nearer to an end of the scale than half-way from what good parts read;
/// rounded outwards to what people write.
pub fn moved_limits(
    before: &Hookup,
    hookup: &Hookup,
    limits: [EndLimits; 2],
) -> Option<[EndLimits; 2]> {
    /// Digits of a limit that is written into a profile.
    const WRITTEN: f64 = 1e4;
    let [old_curve, curve] = [before, hookup].map(Curve::of);
    let turned = curve.span() * old_curve.span() < 0.0;
    let [old, new] = [before, hookup].map(good_corners);
    let end = |limits: EndLimits, travel: f64| {
        let (was, is) = (old_curve.at(travel)?, curve.at(travel)?);
        let [(old_low, old_high), (low, high)] = [
            reading::band(before, &old, travel)?,
            reading::band(hookup, &new, travel)?,
        ];
        // Distances from the nominal reading, and whether the limit held every unit of the kind.
        let below = limits.min.map(|min| (was - min, min <= old_low));
        let above = limits.max.map(|max| (max - was, max >= old_high));
        let (below, above) = if turned {
            (above, below)
        } else {
            (below, above)
        };
        Some(EndLimits {
            // Half of the way to an end of the scale at most: what a broken wire reads must stay outside.
            min: below.map(|(by, held)| {
                let min = if held { (is - by).min(low) } else { is - by };
                let min = min.max(low.max(0.0) / 2.0);
                (min * WRITTEN).floor() / WRITTEN
            }),
            max: above.map(|(by, held)| {
                let max = if held { (is + by).max(high) } else { is + by };
                let max = max.min(f64::midpoint(high, 1.0).max(high));
                (max * WRITTEN).ceil() / WRITTEN
            }),
        })
    };
    Some([end(limits[0], 0.0)?, end(limits[1], 1.0)?])
}
