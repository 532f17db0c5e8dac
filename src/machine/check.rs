//! The link of the season's check: when the control that was measured longest ago is to be measured again.

use super::commands::Commands;
use super::link::{Link, LinkState};
use super::types::{Control, Machine, has_come};
use jiff::civil::Date;
use jiff::tz::Offset;
use jiff::{Timestamp, ToSpan};

/// Its name.
pub(super) const CHECK: &str = "check due";

/// The control that was measured longest ago of those that were, and when its check was due, where that day has come.
fn overdue(machine: &Machine, now: Timestamp) -> Option<(&Control, Date)> {
    let measured = machine.controls.iter().filter_map(|control| {
        let newest = machine.newest_capture(&control.name)?;
        let taken = machine.evidence[newest].taken_at()?;
        has_come(taken, now).then_some((control, taken))
    });
    let (control, taken) = measured.min_by_key(|(_, taken)| *taken)?;
    let due = checked_from(machine, taken)?;
    (Offset::UTC.to_datetime(now).date() >= due).then_some((control, due))
}

/// The day of the check that counts from this time.
fn checked_from(machine: &Machine, taken: Timestamp) -> Option<Date> {
    let day = Offset::UTC.to_datetime(taken).date();
    day.checked_add(i64::from(machine.check_every_months).months())
        .ok()
}

/// When the control that was measured longest ago is to be measured again.
pub(super) fn check_due(machine: &Machine, now: Timestamp) -> Option<Date> {
    let mut oldest: Option<Timestamp> = None;
    for control in &machine.controls {
        let newest = machine.newest_capture(&control.name)?;
        let taken = machine.evidence[newest].taken_at();
        let taken = taken.filter(|taken| has_come(*taken, now))?;
        oldest = Some(oldest.map_or(taken, |had| had.min(taken)));
    }
    checked_from(machine, oldest?)
}

pub(super) fn of_check(commands: &Commands<'_>, due: Option<Date>, now: Timestamp) -> Link {
    let machine = commands.machine;
    let link = Link::new(CHECK, None);
    let again = |control: &Control| {
        format!(
            "measure {} again and compare it with what it was: {}",
            control.name,
            commands.measure(control)
        )
    };
    let Some(due) = due else {
        if let Some((control, was_due)) = overdue(machine, now) {
            let why = format!(
                "a check of {} was due in {}; the others count from when they are measured",
                control.name,
                month(was_due)
            );
            return link.is(LinkState::Stale, why, Some(again(control)));
        }
        let first = machine
            .controls
            .iter()
            .find(|control| machine.newest_capture(&control.name).is_none());
        let next =
            first.map(|control| format!("measure {}: {}", control.name, commands.measure(control)));
        let why = "counts from when every control was measured";
        return link.is(LinkState::Missing, why, next);
    };
    if Offset::UTC.to_datetime(now).date() < due {
        let why = format!("next check {}", month(due));
        return link.is(LinkState::Done, why, None);
    }
    let next = machine.due_first().map(again);
    let why = format!("a check was due in {}", month(due));
    link.is(LinkState::Stale, why, next)
}

/// `Apr 2027`.
pub(super) fn month(date: Date) -> String {
    date.strftime("%b %Y").to_string()
}
