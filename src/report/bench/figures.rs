//! Every figure that was measured, channel by channel.

use super::source::BenchReport;
use crate::report::assessment::figures::measured;
use crate::report::assessment::zones::zones;
use crate::report::document::{Block, Section};

pub(super) fn section(report: &BenchReport<'_>) -> Section<'static> {
    let assessment = report.assessment;
    let table = |name, figures| Block::Table(measured(assessment, name, figures));
    let mut blocks = vec![Block::paragraph(
        "Each value with its 95 % interval (JCGM 100, the GUM), rounded to two digits of the uncertainty; % is of span.",
    )];
    for (channel, part) in &assessment.channels {
        blocks.push(table(channel, &part.figures));
        let zones = zones(assessment, channel, part);
        if !zones.is_empty() {
            blocks.push(Block::List("", zones));
        }
    }
    for (pair, part) in &assessment.pairs {
        blocks.push(table(pair, &part.figures));
    }
    Section::new("All that was measured", blocks).at("figures")
}
