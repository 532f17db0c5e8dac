//! A profile explained.

use super::document::{Block, Document, Section};
use crate::profile::Profile;
use measure::figure::numbers;

/// The whole explanation: what it is, what is done with a unit, each limit with its meaning and reason, and cautions.
pub fn profile(of: &Profile) -> Document<'static> {
    let card: Vec<&str> = of.card.iter().map(|step| step.word()).collect();
    let mut sections = vec![Section::untitled(vec![
        Block::Paragraph(format!("test: {}", card.join(", "))),
        Block::Paragraph(format!(
            "supply {} mV; commands zero at {}; a fault must stop the output within {} ms; limits in codes are of {} bits \
             (other boards: scaled)",
            of.supply_mv,
            of.zero_command_at.word(),
            of.stop_within_ms,
            of.code_bits
        )),
    ])];
    for (place, limits, reasons) in of.limit_lists() {
        let mut blocks = Vec::new();
        for (name, limit) in limits {
            blocks.push(Block::Verbatim(format!(
                "  {name:<24} {}",
                name.unit()
                    .behind(&numbers::limit(limit.min(), limit.max()))
            )));
            blocks.push(Block::item("      ", name.facts().definition));
            let reason = reasons.get(name);
            blocks.extend(reason.map(|reason| Block::item("      why: ", reason)));
        }
        sections.push(Section::new(place.to_uppercase(), blocks));
    }
    sections.push(Section::untitled(vec![Block::List("! ", of.cautions())]));
    Document {
        title: format!("{} ({})", of.name, of.kind.word()),
        intro: of.comment.iter().map(Block::paragraph).collect(),
        sections,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_built_in_profile_reads_well_in_eighty_columns() {
        for (name, _) in crate::profile::BUILT_IN {
            let text = profile(&crate::profile::find(name).unwrap()).text();
            assert!(text.is_ascii(), "{name}");
            assert!(text.lines().all(|line| line.len() <= 80), "{name}\n{text}");
            assert!(!text.contains("  ! "), "{name} contradicts itself:\n{text}");
            assert!(text.contains("why: "), "{name}");
        }
    }
}
