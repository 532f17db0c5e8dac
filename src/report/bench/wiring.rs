//! The wiring that the profile states: what should be read, and what becomes of every single fault.

use super::source::BenchReport;
use crate::report::document::{Block, Section};
use crate::report::wiring::{LEGEND, blocks};
use std::iter;

/// Nothing without a profile.
pub(super) fn section<'a>(report: &'a BenchReport<'_>) -> Option<Section<'a>> {
    let used = report.profile.as_ref()?;
    let blocks = match &used.wiring {
        Ok(wiring) => iter::once(Block::paragraph(LEGEND))
            .chain(blocks(wiring))
            .collect(),
        Err(why) => vec![Block::paragraph(why)],
    };
    let title = "Wiring and single faults, as the profile states them";
    Some(Section::new(title, blocks).at("wiring"))
}
