//! The stretch of time that the trace shows: live, or held with a cursor on it.

/// Least and most time across the screen, microseconds: 20 ms to 4 hours.
const SPAN_US: (i64, i64) = (20_000, 4 * 3600 * 1_000_000);

/// Time across the screen at first, microseconds.
const FIRST_SPAN_US: i64 = 20_000_000;

/// A held window: where it ends and where its cursor stands, microseconds of board time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Held {
    /// The right edge.
    pub end_us: i64,
    /// The cursor; always inside the window.
    pub cursor_us: i64,
}

/// The window. Holds `SPAN_US.0 <= span_us <= SPAN_US.1`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    span_us: i64,
    held: Option<Held>,
}

impl Default for Window {
    fn default() -> Self {
        Self {
            span_us: FIRST_SPAN_US,
            held: None,
        }
    }
}

impl Window {
    /// Where it is held; absent while it follows what arrives.
    pub fn held(&self) -> Option<Held> {
        self.held
    }

    /// Left and right edge, microseconds, when `extent` is the time of the first and last sample. The right edge
    /// of a live window is the last sample; the left may lie before the first.
    pub fn edges(&self, extent: (i64, i64)) -> (i64, i64) {
        let end = self.held.map_or(extent.1, |held| held.end_us);
        (end.saturating_sub(self.span_us), end)
    }

    /// Holds the window where it stands with the cursor in its middle, or lets it go.
    pub fn toggle(&mut self, extent: (i64, i64)) {
        match self.held {
            Some(_) => self.held = None,
            None => self.hold(extent),
        }
    }

    /// Lets it follow what arrives.
    pub fn follow(&mut self) {
        self.held = None;
    }

    fn hold(&mut self, extent: (i64, i64)) {
        if self.held.is_none() {
            let cursor_us = extent.1.saturating_sub(self.span_us / 2);
            self.held = Some(Held {
                end_us: extent.1,
                cursor_us: cursor_us.clamp(extent.0, extent.1),
            });
        }
    }

    /// Moves the cursor by `parts` hundredths of the window, holding it; the window comes along at its edges and
    /// the cursor stays between the first and the last sample.
    pub fn step(&mut self, parts: i64, extent: (i64, i64)) {
        self.hold(extent);
        let by = (self.span_us / 100).max(1).saturating_mul(parts);
        let span_us = self.span_us;
        if let Some(held) = &mut self.held {
            held.cursor_us = held.cursor_us.saturating_add(by).clamp(extent.0, extent.1);
            let earliest_end = held.cursor_us;
            let latest_end = held.cursor_us.saturating_add(span_us);
            held.end_us = held.end_us.clamp(earliest_end, latest_end);
        }
    }

    /// Moves the window and its cursor by `halves` half windows, holding it.
    pub fn page(&mut self, halves: i64, extent: (i64, i64)) {
        self.hold(extent);
        let by = (self.span_us / 2).saturating_mul(halves);
        if let Some(held) = &mut self.held {
            let moved = held.cursor_us.saturating_add(by).clamp(extent.0, extent.1);
            held.end_us = held.end_us.saturating_add(moved - held.cursor_us);
            held.cursor_us = moved;
        }
    }

    /// To the first sample, holding it.
    pub fn first(&mut self, extent: (i64, i64)) {
        self.held = Some(Held {
            end_us: extent.0.saturating_add(self.span_us),
            cursor_us: extent.0,
        });
    }

    /// From the first sample to the last, as far as the longest window reaches; follows what arrives.
    pub fn whole(&mut self, extent: (i64, i64)) {
        self.held = None;
        let length = extent.1.saturating_sub(extent.0);
        self.span_us = length.clamp(SPAN_US.0, SPAN_US.1);
    }

    /// Halves (`closer`) or doubles the time across the screen about the cursor, or about now when live.
    pub fn stretch(&mut self, closer: bool) {
        let before = self.span_us;
        let wanted = if closer { before / 2 } else { before * 2 };
        self.span_us = wanted.clamp(SPAN_US.0, SPAN_US.1);
        let span = i128::from(self.span_us);
        if let Some(held) = &mut self.held {
            // The cursor keeps its place on the screen.
            let right = i128::from(held.end_us) - i128::from(held.cursor_us);
            let scaled = right * span / i128::from(before);
            let end = i128::from(held.cursor_us) + scaled.clamp(0, span);
            held.end_us = i64::try_from(end).unwrap_or(i64::MAX);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn live_it_ends_at_the_last_sample() {
        let window = Window::default();
        assert_eq!(window.edges((0, 30_000_000)), (10_000_000, 30_000_000));
        assert_eq!(window.edges((0, 5_000_000)), (-15_000_000, 5_000_000));
    }

    #[test]
    fn held_it_stays_while_samples_arrive() {
        let mut window = Window::default();
        window.toggle((0, 30_000_000));
        assert_eq!(window.edges((0, 99_000_000)), (10_000_000, 30_000_000));
        window.toggle((0, 99_000_000));
        assert_eq!(window.edges((0, 99_000_000)).1, 99_000_000);
    }

    #[test]
    fn zoom_keeps_the_cursor_where_it_is_on_the_screen() {
        let mut window = Window::default();
        window.toggle((0, 30_000_000)); // cursor in the middle, at 20 s
        window.stretch(true);
        assert_eq!(window.edges((0, 30_000_000)), (15_000_000, 25_000_000));
    }

    proptest! {
        #[test]
        fn the_cursor_stays_in_the_window_and_in_the_run(
            moves in prop::collection::vec((0_u8..8, -9_i64..9), 0..60), first in 0_i64..1_000_000, length in 0_i64..i64::MAX / 4,
        ) {
            let extent = (first, first + length);
            let mut window = Window::default();
            for (kind, by) in moves {
                match kind {
                    0 => window.toggle(extent),
                    1 => window.step(by, extent),
                    2 => window.page(by, extent),
                    3 => window.first(extent),
                    4 => window.stretch(true),
                    5 => window.stretch(false),
                    6 => window.whole(extent),
                    _ => window.follow(),
                }
                let (from, to) = window.edges(extent);
                prop_assert_eq!(to - from, window.span_us);
                if let Some(held) = window.held() {
                    prop_assert!(from <= held.cursor_us && held.cursor_us <= to);
                    prop_assert!(extent.0 <= held.cursor_us && held.cursor_us <= extent.1);
                }
            }
        }
    }
}
