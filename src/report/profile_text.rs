//! A profile explained in plain text: ASCII, at most 80 columns.
//!
//! Belongs here: columns and words. Does not belong here: anything computed, any judgement of a unit.

use super::page::Page;
use crate::profile::Profile;
use measure::judge::Limit;

/// The whole explanation, ending in a newline: what it is, what is done with a unit, each limit with its meaning and reason,
/// and words of caution.
#[must_use]
pub fn render(profile: &Profile) -> String {
    let mut page = Page::default();
    page.line(&format!("{} ({})", profile.name, profile.kind.word()));
    if let Some(comment) = &profile.comment {
        page.words(comment);
    }
    page.gap();
    let card: Vec<&str> = profile.card.iter().map(|step| step.word()).collect();
    page.words(&format!("card: {}", card.join(", ")));
    let zero = profile.zero_command_at.word();
    page.words(&format!(
        "supply {} mV; commands zero at {zero}; a fault must stop the output within {} ms",
        profile.supply_mv, profile.stop_within_ms
    ));
    for (place, limits, reasons) in profile.limit_lists() {
        page.gap();
        page.line(&place.to_uppercase());
        for (name, limit) in limits {
            page.line(&format!(
                "  {name:<24} {} {}",
                side_words(*limit),
                unit(name.unit())
            ));
            page.hang("      ", "      ", name.definition());
            if let Some(reason) = reasons.get(name) {
                page.hang("      why: ", "           ", reason);
            }
        }
    }
    let cautions = profile.cautions();
    if !cautions.is_empty() {
        page.gap();
        for caution in cautions {
            page.hang("  ! ", "    ", &caution);
        }
    }
    page.text()
}

fn unit(unit: &str) -> &str {
    if unit == "1" { "" } else { unit }
}

fn side_words(limit: Limit) -> String {
    match (limit.min(), limit.max()) {
        (Some(min), Some(max)) => format!("{min} to {max}"),
        (Some(min), None) => format!("at least {min}"),
        (None, Some(max)) => format!("at most {max}"),
        (None, None) => measure::figure::numbers::DASH.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_profile_reads_well_in_eighty_columns() {
        for (name, _) in crate::profile::BUILT_IN {
            let text = render(&crate::profile::find(name).unwrap());
            assert!(text.is_ascii(), "{name}");
            assert!(text.lines().all(|line| line.len() <= 80), "{name}\n{text}");
            assert!(!text.contains("  ! "), "{name} contradicts itself:\n{text}");
            assert!(text.contains("why: "), "{name}");
        }
    }
}
