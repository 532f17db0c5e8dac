//! The functions of the arithmetic beyond `+ - * /` and square roots: one implementation for every system.
//!
//! Those of the standard library are the platform's own. Each rounds the last digit in its own way, and another one with
//! the next release of a C library: a record kept on one computer would not hash as it does on the next. `clippy.toml`
//! refuses the standard ones outside tests. `powi` stays for exponents that are not negative:
//! those are multiplied out in one order; of negative ones each compiler's library has its own idea.

pub use libm::{
    acos, atan2, cbrt, cos, erfc, exp, exp2, hypot, lgamma as ln_gamma, log as ln, log1p, log2,
    log10, pow, sin, sincos as sin_cos,
};

/// `value * 10^place`, one correctly rounded operation while the power is a whole number that a double holds (to 10^22):
/// 47 and 2 give 4700, 5 and -1 give 0.5.
#[must_use]
pub fn times_power_of_ten(value: f64, place: i32) -> f64 {
    let power = 10_f64.powi(place.saturating_abs());
    if place < 0 {
        value / power
    } else {
        value * power
    }
}

#[cfg(test)]
#[allow(clippy::float_cmp)] // exact is what is asked
mod tests {
    use super::*;

    /// A floor of a logarithm and a number of codes must not fall short of the whole number that they are.
    #[test]
    fn whole_powers_are_exact() {
        for n in -1022..=1023_i32 {
            assert_eq!(log2(exp2(f64::from(n))), f64::from(n), "2^{n}");
            assert_eq!(
                exp2(f64::from(n)).to_bits(),
                u64::try_from(n + 1023).unwrap() << 52,
                "2^{n}"
            );
        }
        for n in 0..=22_i32 {
            let power = format!("1e{n}").parse::<f64>().unwrap();
            assert_eq!(pow(10.0, f64::from(n)), power);
            assert_eq!(log10(power), f64::from(n));
        }
    }

    #[test]
    fn a_power_of_ten_costs_one_rounding() {
        assert_eq!(times_power_of_ten(47.0, 2), 4700.0);
        assert_eq!(times_power_of_ten(5.0, -1), 0.5);
        for n in 0..=22_i32 {
            assert_eq!(
                times_power_of_ten(1.0, -n),
                format!("1e-{n}").parse::<f64>().unwrap()
            );
        }
    }

    /// Values of tables, to the last digits that a double holds.
    #[test]
    fn known_values() {
        let near = |a: f64, b: f64| assert!((a / b - 1.0).abs() < 3e-16, "{a} against {b}");
        near(exp(1.0), std::f64::consts::E);
        near(ln(2.0), std::f64::consts::LN_2);
        near(log10(2.0), std::f64::consts::LOG10_2);
        near(hypot(3e200, 4e200), 5e200);
        near(pow(2.0, 0.5), std::f64::consts::SQRT_2);
        near(atan2(1.0, 1.0), std::f64::consts::FRAC_PI_4);
        let (sin, cos) = sin_cos(std::f64::consts::FRAC_PI_6);
        near(sin, 0.5);
        near(cos, 0.866_025_403_784_438_6); // sqrt(3) / 2
    }
}
