use super::*;

fn spread(name: FigureName, values: &[f64], u: f64) -> Spread {
    let figures: Vec<Figure> = values
        .iter()
        .map(|v| Figure::symmetric(*v, u, 2.0, 1, ""))
        .collect();
    Spread::of(name, &figures.iter().collect::<Vec<_>>()).unwrap()
}

/// Hand-worked: 1, 2, 3 have mean 2 and sd 1; their logarithms mean 0.59725 and sd 0.55555. k for three units, 95 % of units with
/// 95 % confidence, is 7.656 one-sided and 9.789 two-sided (tests/reference/24, computed there outside this program).
#[test]
fn three_units_by_hand() {
    let (limit, reason) = limit_of(FigureName::NoiseRestRms, &[1.0, 2.0, 3.0], 0.05);
    // exp(0.59725 + 7.656 x 0.55555 + ln 1.1) = 140.6, outward to tens.
    assert_eq!((limit.min(), limit.max()), (None, Some(150.0)));
    assert!(
        reason.starts_with("k = 7.66 with 3 parts (one-sided"),
        "{reason}"
    );
    assert!(
        reason.contains("says little") || reason.contains("say little"),
        "{reason}"
    );
    // Alike within a tenth: logarithms of 0.9, 1, 1.1 have mean -0.00335 and sd 0.10034: exp(-0.00335 + 0.76820) = 2.1488.
    let (limit, _) = limit_of(FigureName::NoiseRestRms, &[0.9, 1.0, 1.1], 0.0);
    assert_eq!(limit.max(), Some(2.2));
    // One that is 0 has no logarithm: 1, 2, 0 as amounts, 1 + 7.656.
    let (limit, _) = limit_of(FigureName::NoiseRestRms, &[0.0, 1.0, 2.0], 0.0);
    assert_eq!(limit.max(), Some(8.7));
    let (limit, reason) = limit_of(FigureName::TrackLag, &[1.0, 2.0, 3.0], 0.0);
    // 2 +- 9.789.
    assert_eq!((limit.min(), limit.max()), (Some(-7.8), Some(11.8)));
    assert!(reason.starts_with("k = 9.79"), "{reason}");
}

fn limit_of(name: FigureName, values: &[f64], u: f64) -> (Limit, String) {
    spread(name, values, u).limit(name).unwrap()
}

#[test]
fn a_side_of_an_end_beyond_the_scale_is_half_way_to_its_end() {
    let (limit, reason) = limit_of(FigureName::RestRatio, &[0.10, 0.11, 0.12], 0.0);
    // 0.11 +- 0.09789: both inside the scale.
    assert_eq!((limit.min(), limit.max()), (Some(0.012), Some(0.208)));
    assert!(!reason.contains("half-way"), "{reason}");
    // 0.12 +- 0.196: half of 0.10 below.
    let (limit, reason) = limit_of(FigureName::RestRatio, &[0.10, 0.12, 0.14], 0.0);
    assert_eq!((limit.min(), limit.max()), (Some(0.05), Some(0.32)));
    assert!(reason.contains("half-way"), "{reason}");
    // Half of 0.1, and half-way from 0.9 to 1.
    let (limit, _) = limit_of(FigureName::RestRatio, &[0.1, 0.5, 0.9], 0.0);
    assert_eq!((limit.min(), limit.max()), (Some(0.05), Some(0.95)));
}

#[test]
fn units_that_read_alike_still_leave_room_for_their_uncertainty() {
    let (limit, _) = limit_of(FigureName::FullRatio, &[0.5; 2], 0.01);
    assert_eq!((limit.min(), limit.max()), (Some(0.48), Some(0.52)));
    let open = Figure {
        high: None,
        ..Figure::symmetric(1.0, 0.1, 2.0, 1, "")
    };
    assert!(Spread::of(FigureName::FullRatio, &[&open, &open]).is_none());
}

#[test]
fn few_units_are_called_few() {
    let notes = width_notes(2, 3);
    // k for two and three units, one-sided: tests/reference/24.
    assert!(
        notes[0].contains("26.26") && notes[0].contains("3 parts 7.66"),
        "{notes:?}"
    );
    assert!(notes[1].contains("little"), "{notes:?}");
    // 1 - 0.95^3 = 0.1426; Bonferroni 3 x 5 %.
    assert!(
        notes[2].contains("14 %") && notes[2].contains("15 %"),
        "{notes:?}"
    );
    assert_eq!(width_notes(12, 0).len(), 1);
}

/// `SplitMix64` and Box-Muller, as in tests/suite/seasons/made.rs.
struct Chance(u64);

impl Chance {
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        let bits = u32::try_from((z ^ (z >> 31)) >> 32).unwrap();
        (f64::from(bits) + 0.5) / 4_294_967_296.0
    }

    fn normal(&mut self) -> f64 {
        (-2.0 * self.even().ln()).sqrt() * (std::f64::consts::TAU * self.even()).cos()
    }

    /// A scatter of `dof` degrees of freedom of a unit whose own is 1 on the whole, a factor of exp(0.25) up or down, as it is measured.
    fn scatter(&mut self, dof: u32) -> Figure {
        let own = (0.25 * self.normal()).exp();
        let squares: f64 = (0..dof).map(|_| self.normal().powi(2)).sum();
        let value = own * (squares / f64::from(dof)).sqrt();
        let (low, high) = measure::statistics::sd_interval(value, f64::from(dof));
        Figure {
            low: Some(low),
            high: Some(high),
            ..Figure::symmetric(value, 0.1, 2.0, 12, "")
        }
    }
}

/// Percent of `sets` of units whose limit at least 95 % of later good units pass with their whole interval, and the percent of all later
/// ones that do.
fn promise(n: usize, dof: u32, sets: u32, seed: u64) -> (f64, f64) {
    let mut chance = Chance(seed);
    let (mut kept, mut passed) = (0, 0);
    for _ in 0..sets {
        let units: Vec<Figure> = (0..n).map(|_| chance.scatter(dof)).collect();
        let spread =
            Spread::of(FigureName::ReturnScatter, &units.iter().collect::<Vec<_>>()).unwrap();
        let max = spread
            .limit(FigureName::ReturnScatter)
            .unwrap()
            .0
            .max()
            .unwrap();
        let later = (0..100)
            .filter(|_| chance.scatter(dof).high.unwrap() <= max)
            .count();
        kept += u32::from(later >= 95);
        passed += u32::try_from(later).unwrap();
    }
    let sets = f64::from(sets);
    (f64::from(kept) * 100.0 / sets, f64::from(passed) / sets)
}

/// As amounts 53 to 72 % of later good units passed. `dof` 11 is a scatter of twelve returns, 200 a noise.
#[test]
fn later_good_units_pass_as_promised() {
    for (n, dof) in [(3, 11), (8, 11), (8, 200)] {
        let (kept, passed) = promise(n, dof, 150, 41);
        // Of 150 sets, 95 % less three standard errors of 1.8 %; of a hundred units each, one or two more or less.
        assert!(
            kept >= 88.0 && passed >= 95.0,
            "{n} parts, {dof}: {kept} {passed}"
        );
    }
}

/// `cargo test --release --lib derive::spread -- --ignored --nocapture`: the table of docs/seasons.md.
#[test]
#[ignore = "large"]
fn later_good_units_large() {
    for (n, dof) in [
        (2, 11),
        (3, 11),
        (5, 11),
        (8, 11),
        (15, 11),
        (3, 200),
        (5, 200),
        (8, 200),
        (15, 200),
    ] {
        let (kept, passed) = promise(n, dof, 2000, 6_000_000 + n as u64 + u64::from(dof));
        println!(
            "{n} parts, {dof} degrees of freedom: {kept:.1} % of sets keep the promise, {passed:.1} % of later parts pass"
        );
    }
}
