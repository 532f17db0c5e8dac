//! Samples that never arrived, looked at as if contact had been lost there.
//!
//! A board or an instrument may print no number while a contact is open. What is lost on the way is lost at any place and time; what is
//! lost at one place of the travel, or while the cable is moved, may be the part's.

use crate::measure::recording::{Channel, Recording};
use crate::measure::strokes::defects::{Dropout, Towards};
use crate::measure::strokes::excursions::LocatedExcursion;
use crate::measure::strokes::path::Path;
use crate::measure::strokes::rail::Reached;
use crate::measure::strokes::segment::Ends;

/// Each pause of more than 1.5 sample periods within a passage, where the signal stood before it; in order of time.
pub(crate) fn silences(
    recording: &Recording<'_>,
    channel: &Channel<'_>,
    ends: Ends,
) -> Vec<LocatedExcursion> {
    let mut found = Vec::new();
    for passage in recording.passages {
        let Some(path) = Path::new(recording, channel, passage) else {
            continue;
        };
        let starts = path.runs(0..path.len()).into_iter().skip(1);
        found.extend(starts.map(|run| {
            let (before, after) = (path.time(run.start - 1), path.time(run.start));
            LocatedExcursion {
                range: path.first + run.start - 1..path.first + run.start,
                dropout: Dropout {
                    t_s: before,
                    duration_ms: (after - before) * 1000.0,
                    depth_pct: 0.0,
                    travel_pct: Some(ends.travel_pct(path.value(run.start - 1))),
                    towards: Towards::Ground,
                },
                reached: Reached::default(),
            }
        }));
    }
    found
}
