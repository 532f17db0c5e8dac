//! A limit as the band that it is, with the value and its interval in it.

use crate::report::document::Gauge;
use maud::{Markup, html};
use measure::figure::numbers::{limit, plain};
use measure::figure::scale::Scale;
use measure::judge::Outcome;

const SIZE: (f64, f64) = (220.0, 36.0);
/// Heights of the rail, and of the band's upper and lower edge.
const RAIL: f64 = 12.0;
const BAND: [f64; 2] = [3.0, 21.0];

/// The picture; nothing without a limit.
pub(super) fn picture(gauge: &Gauge, outcome: Outcome) -> Markup {
    let Some(scale) = Scale::of(gauge.min, gauge.max) else {
        return html! {};
    };
    let class = match outcome {
        Outcome::Pass => "pass",
        Outcome::Fail => "fail",
        Outcome::Undecided => "undecided",
        Outcome::NotMeasured => "missing",
    };
    let from = gauge.min.map_or(0.0, |min| at(scale, min));
    let to = gauge.max.map_or(SIZE.0, |max| at(scale, max));
    let edges = [gauge.min, gauge.max];
    html! {
        svg class=(format!("gauge {class}")) viewBox=(format!("0 0 {} {}", SIZE.0, SIZE.1)) role="img"
            aria-label=(label(gauge)) {
            rect class="band" x=(px(from)) y=(px(BAND[0])) width=(px((to - from).max(1.5))) height=(px(BAND[1] - BAND[0])) {}
            line class="rail" x1="0" x2=(px(SIZE.0)) y1=(px(RAIL)) y2=(px(RAIL)) {}
            @for edge in edges.into_iter().flatten() {
                @let x = at(scale, edge);
                line class="edge" x1=(px(x)) x2=(px(x)) y1=(px(BAND[0] - 2.0)) y2=(px(BAND[1] + 2.0)) {}
                text x=(px(x)) y=(px(SIZE.1 - 2.0)) text-anchor=(anchor(x)) { (plain(edge)) }
            }
            (value(gauge, scale))
        }
    }
}

fn value(gauge: &Gauge, scale: Scale) -> Markup {
    let Some(value) = gauge.value else {
        return html! {};
    };
    let off = |x: f64| x < 0.0 || x > SIZE.0;
    let x = at(scale, value);
    let inside = |x: f64| x.clamp(0.0, SIZE.0);
    let low = inside(gauge.low.map_or(0.0, |low| at(scale, low)));
    let high = inside(gauge.high.map_or(SIZE.0, |high| at(scale, high)));
    html! {
        @if high > low { line class="interval" x1=(px(low)) x2=(px(high)) y1=(px(RAIL)) y2=(px(RAIL)) {} }
        @if off(x) {
            @let (tip, back) = if x < 0.0 { (1.0, 10.0) } else { (SIZE.0 - 1.0, SIZE.0 - 10.0) };
            polygon class="value" points=(format!("{tip},{RAIL} {back},{} {back},{}", RAIL - 6.0, RAIL + 6.0)) {}
        } @else {
            polygon class="value" points=(format!(
                "{x:.1},{} {:.1},{RAIL} {x:.1},{} {:.1},{RAIL}", RAIL - 6.0, x + 5.0, RAIL + 6.0, x - 5.0
            )) {}
        }
    }
}

fn label(gauge: &Gauge) -> String {
    let allowed = limit(gauge.min, gauge.max);
    match gauge.value {
        Some(value) => format!("allowed {allowed}, value {}", plain(value)),
        None => format!("allowed {allowed}, not measured"),
    }
}

/// The side of a number on which its letters have room.
fn anchor(x: f64) -> &'static str {
    if x < 30.0 {
        "start"
    } else if x > SIZE.0 - 30.0 {
        "end"
    } else {
        "middle"
    }
}

fn px(x: f64) -> String {
    format!("{x:.1}")
}

/// Where a value stands on the picture, possibly beyond it.
fn at(scale: Scale, value: f64) -> f64 {
    scale.share(value) * SIZE.0
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gauge(min: Option<f64>, max: Option<f64>, value: Option<f64>) -> Gauge {
        Gauge {
            min,
            max,
            value,
            low: value,
            high: value,
        }
    }

    #[test]
    fn a_value_in_the_middle_of_its_band_and_one_far_off() {
        // 15 in 10 .. 20 stands in the middle, 110; by hand.
        let svg = picture(&gauge(Some(10.0), Some(20.0), Some(15.0)), Outcome::Pass).into_string();
        assert!(
            svg.contains("points=\"110.0,6 115.0,12 110.0,18 105.0,12\""),
            "{svg}"
        );
        assert!(
            svg.contains("x=\"55.0\"") && svg.contains("width=\"110.0\""),
            "{svg}"
        );
        let svg = picture(&gauge(None, Some(0.0), Some(400.0)), Outcome::Fail).into_string();
        assert!(
            svg.contains("points=\"219,12 210,6 210,18\""),
            "an arrow: {svg}"
        );
        let svg = picture(&gauge(None, Some(2.0), None), Outcome::NotMeasured).into_string();
        assert!(
            !svg.contains("polygon") && svg.contains("not measured"),
            "{svg}"
        );
    }
}
