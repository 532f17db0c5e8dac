//! The pictures: the recording, noise along the travel, straightness, two tracks.

use crate::record::ChannelPart;
use crate::report::document::{Part, Picture, Section, Shows};
use crate::report::page::Page;
use crate::report::sheet::Sheet;
use crate::report::{Agreement, travel_text};
use measure::figure::FigureName;
use measure::figure::numbers::{fixed, four_digits, plain};

pub(super) fn section<'a>(sheet: &'a Sheet<'_>) -> Section<'a> {
    let mut parts = traces(sheet);
    for (channel, part) in &sheet.assessment.channels {
        parts.extend(noise(channel, part).map(Part::Picture));
        parts.extend(deviation(sheet, channel, part).map(Part::Picture));
    }
    for agreement in sheet.agreements {
        parts.push(Part::Picture(tracks(sheet, agreement)));
    }
    Section {
        id: "pictures",
        title: "What it looked like",
        parts,
    }
}

fn traces<'a>(sheet: &'a Sheet<'_>) -> Vec<Part<'a>> {
    let channels = sheet.trace.channels.iter().enumerate();
    let pictures = channels.map(|(at, (name, _))| {
        Part::Picture(Picture {
            caption: format!(
                "{name}: codes over {} s, lowest and highest of every moment",
                fixed(sheet.trace.length_s, 1)
            ),
            shows: Shows::Trace(sheet.trace, at),
            letters: String::new(),
        })
    });
    pictures.collect()
}

fn noise<'a>(channel: &str, part: &'a ChannelPart) -> Option<Picture<'a>> {
    let map = part.map.as_ref()?;
    let mut letters = Page::default();
    travel_text::noise(&mut letters, part);
    let worn = match part.worn_zones.len() {
        0 => "no worn zone",
        1 => "one worn zone, shaded",
        _ => "worn zones shaded",
    };
    let dropouts = match part.dropouts.len() {
        0 => String::new(),
        n => format!(", dropouts marked below ({n})"),
    };
    Some(Picture {
        caption: format!(
            "{channel}: noise along the travel in {} strokes, {worn}{dropouts}; the dashed line is the usual noise, {} code",
            map.strokes,
            fixed(map.overall, 2)
        ),
        shows: Shows::Noise(map, &part.worn_zones, &part.dropouts),
        letters: letters.text(),
    })
}

fn deviation<'a>(sheet: &Sheet<'_>, channel: &str, part: &'a ChannelPart) -> Option<Picture<'a>> {
    let curve = part.curve.as_ref()?;
    let mut letters = Page::default();
    travel_text::deviation(&mut letters, Some(curve));
    let band = most(sheet, channel, FigureName::LinearityIndependent);
    let needed = part.figures.value(FigureName::LinearityIndependent);
    Some(Picture {
        caption: format!(
            "{channel}: deviation from the straightest line, % of span, at {} positions; bars reach two standard \
             uncertainties; triangles up and down show each way alone{}; {}",
            curve.points.len(),
            needed_words(needed),
            band_words(band)
        ),
        shows: Shows::Deviation(curve, band, needed),
        letters: letters.text(),
    })
}

fn tracks<'a>(sheet: &Sheet<'_>, agreement: &'a Agreement) -> Picture<'a> {
    let band = most(sheet, &agreement.pair, FigureName::TrackDisagreement);
    Picture {
        caption: format!(
            "{}: departure of the second track from its line through the first, % of its span; the line is the mean of \
             each 1 % of travel, pale what single samples reached; {}",
            agreement.pair,
            band_words(band)
        ),
        shows: Shows::Agreement(agreement, band),
        letters: String::new(),
    }
}

fn most(sheet: &Sheet<'_>, channel: &str, figure: FigureName) -> Option<f64> {
    sheet.assessment.finding(channel, figure)?.max
}

fn needed_words(needed: Option<f64>) -> String {
    needed.map_or_else(String::new, |needed| {
        format!(
            "; dotted is the narrowest band that holds the line, {} % either way",
            four_digits(needed)
        )
    })
}

fn band_words(band: Option<f64>) -> String {
    match band {
        Some(band) => format!("the band is the limit, {} % either way", plain(band)),
        None => "no limit is set".to_owned(),
    }
}
