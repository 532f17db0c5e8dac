//! A limit of the base against the one that the captures give: which of the two stands, side by side.
//!
//! Belongs here: that a limit of the base is opened only when that is asked for, and a side of it never dropped. Does not
//! belong here: where the captures' limit comes from (`spread`).

use measure::figure::numbers::limit as allowed;
use measure::judge::Limit;

/// What became of a limit of the base.
pub(super) struct Held {
    pub limit: Limit,
    pub reason: String,
    /// What a person must know: what was kept against the parts, or opened for them.
    pub message: Option<String>,
    /// Whether a side lies further out than in the base.
    pub loosened: bool,
}

/// A limit of so many times what the parts have says nothing: two parts that differ give one, by the factor of so few.
const USELESS_TIMES: f64 = 100.0;

/// Each side the tighter of the two; with `widen` that of the captures, where they have one. Parts whose `middle` would lie outside leave the
/// base as it is: a limit that the parts themselves break would say nothing of either.
pub(super) fn held(
    base: Limit,
    why: Option<&str>,
    (found, reason, middle): (Limit, &str, f64),
    widen: bool,
) -> Held {
    let side =
        |base: Option<f64>, found: Option<f64>, tighter: fn(f64, f64) -> f64| match (base, found) {
            (Some(base), Some(found)) if !widen => Some(tighter(base, found)),
            (base, found) => found.or(base),
        };
    let both = Limit::new(
        side(base.min(), found.min(), f64::max),
        side(base.max(), found.max(), f64::min),
    );
    let words = |limit: Limit| allowed(limit.min(), limit.max());
    let holds = |limit: &Limit| {
        limit.min().is_none_or(|min| middle >= min) && limit.max().is_none_or(|max| middle <= max)
    };
    if found
        .max()
        .is_some_and(|max| middle > 0.0 && max > USELESS_TIMES * middle)
    {
        return Held {
            limit: base,
            reason: why.unwrap_or(reason).to_owned(),
            message: Some(format!(
                "stays {} as in the base{}: these parts are too few for this limit, record more of them, three at least",
                words(base),
                if holds(&base) {
                    ""
                } else {
                    ", and the parts lie outside it"
                }
            )),
            loosened: false,
        };
    }
    let Some(limit) = both.ok().filter(holds) else {
        return Held {
            limit: base,
            reason: why.unwrap_or(reason).to_owned(),
            message: Some(format!(
                "stays {} as in the base; the parts lie outside it and would need {} (--widen takes that): are they of this kind, \
                 and good?",
                words(base),
                words(found)
            )),
            loosened: false,
        };
    };
    let further = |limit: Limit| {
        let below = base
            .min()
            .zip(limit.min())
            .is_some_and(|(base, own)| own < base);
        let above = base
            .max()
            .zip(limit.max())
            .is_some_and(|(base, own)| own > base);
        below || above
    };
    let lacks = (base.min().is_some() && found.min().is_none())
        || (base.max().is_some() && found.max().is_none());
    let message = if further(limit) {
        Some(format!(
            "was {} in the base, now {}",
            words(base),
            words(limit)
        ))
    } else if further(found) || lacks {
        Some(format!(
            "is {}, no further out than the base's {}; these few parts alone would allow {}{}",
            words(limit),
            words(base),
            words(found),
            if further(found) {
                " (--widen takes that)"
            } else {
                ""
            }
        ))
    } else {
        None
    };
    let of_base = limit == base;
    let reason = match why {
        Some(why) if of_base => why.to_owned(),
        Some(why) if message.is_some() && !further(limit) => {
            format!("{reason}; the other side is the base's: {why}")
        }
        _ => reason.to_owned(),
    };
    Held {
        limit,
        reason,
        loosened: further(limit),
        message,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Of parts that fit the base.
    const MIDDLE: f64 = 0.16;

    fn limit(min: Option<f64>, max: Option<f64>) -> Limit {
        Limit::new(min, max).unwrap()
    }

    /// The case that was found: two good levers gave a rest ratio of at most 0.3 and no minimum, and a part whose wire is off
    /// passed.
    #[test]
    fn a_side_that_the_parts_do_not_show_stays_that_of_the_base() {
        let base = limit(Some(0.12), Some(0.2));
        for widen in [false, true] {
            let held = held(
                base,
                Some("why"),
                (limit(None, Some(0.3)), "few", MIDDLE),
                widen,
            );
            assert_eq!(held.limit.min(), Some(0.12));
            assert_eq!(held.limit.max(), Some(if widen { 0.3 } else { 0.2 }));
            assert_eq!(held.loosened, widen);
            assert!(held.message.is_some());
        }
    }

    #[test]
    fn tighter_is_taken_silently_and_wider_only_when_asked_for() {
        let base = limit(Some(0.12), Some(0.2));
        let tight = held(
            base,
            Some("why"),
            (limit(Some(0.15), Some(0.17)), "k", MIDDLE),
            false,
        );
        assert_eq!(
            (tight.limit, tight.reason.as_str(), tight.message),
            (limit(Some(0.15), Some(0.17)), "k", None)
        );
        let mixed = held(
            base,
            Some("why"),
            (limit(Some(0.05), Some(0.17)), "k", MIDDLE),
            false,
        );
        assert_eq!(mixed.limit, limit(Some(0.12), Some(0.17)));
        assert!(!mixed.loosened && mixed.message.unwrap().contains("--widen"));
        let open = held(
            base,
            Some("why"),
            (limit(Some(0.05), Some(0.17)), "k", MIDDLE),
            true,
        );
        assert_eq!(open.limit, limit(Some(0.05), Some(0.17)));
        assert!(open.loosened && open.message.unwrap().contains("was 0.12"));
    }

    #[test]
    fn a_limit_that_says_nothing_is_never_taken() {
        let base = limit(None, Some(2.0));
        for (middle, widen) in [(3.0, false), (3.0, true), (1.0, true)] {
            let held = held(
                base,
                None,
                (limit(None, Some(1.9e31)), "few", middle),
                widen,
            );
            assert_eq!((held.limit, held.loosened), (base, false));
            let message = held.message.unwrap();
            assert!(message.contains("too few for this limit"), "{message}");
            assert!(!message.contains("000"), "{message}");
            assert_eq!(message.contains("lie outside it"), middle > 2.0);
        }
    }

    #[test]
    fn parts_outside_the_base_leave_it_as_it_is() {
        let base = limit(Some(0.85), Some(0.92));
        let held = held(
            base,
            Some("why"),
            (limit(Some(0.7), Some(0.851)), "k", 0.787),
            false,
        );
        assert_eq!((held.limit, held.reason.as_str()), (base, "why"));
        assert!(held.message.unwrap().contains("outside"));
    }
}
