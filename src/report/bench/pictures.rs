//! The pictures: the recording, noise along the travel, straightness, two tracks.

use super::source::BenchReport;
use crate::record::Assessment;
use crate::report::agreement::Agreement;
use crate::report::assessment::findings::upper_limit;
use crate::report::assessment::travel::{band, deviation, noise};
use crate::report::document::{Block, Picture, Plot, Section};
use crate::report::recurring::Recurring;
use measure::figure::FigureName;
use measure::figure::numbers::fixed;
use measure::judge::{Outcome, Verdict};

pub(super) fn section<'a>(report: &'a BenchReport<'_>) -> Section<'a> {
    let assessment = report.assessment;
    let mut pictures = traces(report);
    // A good part's report is short: what recurs is on the screen.
    let good = assessment.verdict == Some(Verdict::Pass);
    for (channel, part) in &assessment.channels {
        let limit = upper_limit(assessment, channel, FigureName::LinearityIndependent);
        let mut recurring = report.recurring.iter();
        let recurring = recurring.find(|one| one.channel == *channel);
        if !good {
            pictures.extend(recurring.and_then(along));
        }
        pictures.extend(noise(channel, part));
        pictures.extend(deviation(channel, part, limit));
        if let Some(recurring) = recurring {
            if !good {
                pictures.extend(laid_over(recurring));
            }
            pictures.extend(at_rest(assessment, recurring));
        }
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
    let picture = |(at, (name, _)): (usize, &'a (String, _))| {
        let mut parts = report.assessment.channels.iter();
        let part = parts.find(|(channel, _)| *channel == *name);
        let part = part.map(|(_, part)| part);
        let lost = match part.map_or(0, |part| part.dropouts.len()) {
            0 => String::new(),
            n => format!("; lost contact marked ({n}; up: towards full, down: towards rest)"),
        };
        let seconds = fixed(trace.length_s, 1);
        drawn(
            format!("{name}: the whole recording, {seconds} s{lost}"),
            Plot::Trace(trace, at, part),
        )
    };
    channels.map(picture).collect()
}

fn drawn(caption: String, plot: Plot<'_>) -> Picture<'_> {
    Picture {
        caption,
        plot,
        ascii: String::new(),
    }
}

fn along(of: &Recurring) -> Option<Picture<'_>> {
    let along = of.along.as_ref()?;
    let allowed = if along.allowed.iter().any(Option::is_some) {
        "; the bands are what the profile allows at rest and at full, the rings what was measured there"
    } else {
        ""
    };
    let caption = format!("{}: {}{allowed}", of.channel, along.describe());
    Some(drawn(caption, Plot::Along(along)))
}

/// What recurs: returns and strokes.
fn laid_over(of: &Recurring) -> Vec<Picture<'_>> {
    let name = &of.channel;
    let mut pictures = Vec::new();
    if of.returns.len() > 1 {
        let allowed = of.along.as_ref().and_then(|along| along.allowed[0]);
        let words = format!(
            "{name}: {} returns over each other, close up at rest",
            of.returns.len()
        );
        pictures.push(drawn(words, Plot::Returns(&of.returns, allowed)));
    }
    if !of.strokes.is_empty() {
        let words = format!(
            "{name}: {} strokes over each other, about their middle",
            of.strokes.len()
        );
        pictures.push(drawn(words, Plot::Strokes(&of.strokes)));
    }
    pictures
}

/// The noise at rest where it is no clear pass, and hum.
fn at_rest<'a>(assessment: &Assessment, of: &'a Recurring) -> Vec<Picture<'a>> {
    let name = &of.channel;
    let mut pictures = Vec::new();
    let noisy = [
        FigureName::NoiseRestRms,
        FigureName::NoisePeakToPeak,
        FigureName::NoiseFreeBits,
    ];
    let clear = |figure| {
        let finding = assessment.finding(name, figure);
        finding.is_none_or(|finding| finding.outcome == Outcome::Pass)
    };
    if !of.at_rest.is_empty() && (of.noise.is_some() || !noisy.into_iter().all(clear)) {
        let words = format!("{name}: noise at rest, how often each reading came");
        pictures.push(drawn(words, Plot::AtRest(&of.at_rest)));
    }
    if let Some((lines, hz)) = &of.noise {
        let words = format!(
            "{name}: what the noise at rest is made of, hertz by hertz; the mains line is named"
        );
        pictures.push(drawn(words, Plot::Lines(lines, *hz)));
    }
    pictures
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
