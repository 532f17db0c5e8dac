//! The pictures: the recording, noise along the travel, straightness, two tracks.

use super::source::BenchReport;
use crate::report::agreement::Agreement;
use crate::report::assessment::findings::upper_limit;
use crate::report::assessment::travel::{band, deviation, noise};
use crate::report::document::{Block, Picture, Plot, Section};
use measure::figure::FigureName;
use measure::figure::numbers::fixed;

pub(super) fn section<'a>(report: &'a BenchReport<'_>) -> Section<'a> {
    let assessment = report.assessment;
    let mut pictures = traces(report);
    for (channel, part) in &assessment.channels {
        let limit = upper_limit(assessment, channel, FigureName::LinearityIndependent);
        pictures.extend(noise(channel, part));
        pictures.extend(deviation(channel, part, limit));
    }
    for agreement in report.agreements {
        let limit = upper_limit(assessment, &agreement.pair, FigureName::TrackDisagreement);
        pictures.push(tracks(agreement, limit));
    }
    let blocks = pictures.into_iter().map(Block::Picture).collect();
    Section::new("What it looked like", blocks).at("pictures")
}

fn traces<'a>(report: &'a BenchReport<'_>) -> Vec<Picture<'a>> {
    let trace = report.trace;
    let channels = trace.channels.iter().enumerate();
    let picture = |(at, (name, _)): (usize, &(String, _))| Picture {
        caption: format!(
            "{name}: the whole recording, {} s",
            fixed(trace.length_s, 1)
        ),
        plot: Plot::Trace(trace, at),
        ascii: String::new(),
    };
    channels.map(picture).collect()
}

fn tracks(agreement: &Agreement, limit: Option<f64>) -> Picture<'_> {
    Picture {
        caption: format!(
            "{}: departure of the second track from its line through the first, % of its span; the line is the mean of \
             each 1 % of travel, pale what single samples reached; {}",
            agreement.pair,
            band(limit)
        ),
        plot: Plot::Agreement(agreement, limit),
        ascii: String::new(),
    }
}
