//! What is wrong and what to do, as a diagnosis has it: the cause, what speaks for it, what to do, the cheapest first.

use crate::record::Assessment;
use crate::report::document::{Block, Section};

/// The causes, each with its facts and remedies; nothing for a good part.
pub(in crate::report) fn causes(assessment: &Assessment) -> Option<Section<'static>> {
    let causes = &assessment.diagnosis.causes;
    let blocks = causes.iter().flat_map(|cause| {
        let place = [&cause.channel, &cause.pin].map(|word| word.as_deref().unwrap_or_default());
        let place = match place {
            ["", _] => String::new(),
            [channel, ""] => format!(", {channel}"),
            [channel, pin] => format!(", {channel} on {pin}"),
        };
        let mut blocks = vec![Block::line(format!(
            "{} ({}{place}{}).",
            sentence(&cause.clause),
            cause.confidence,
            cause.acts_towards.describe()
        ))];
        blocks.push(Block::List("", cause.because.clone()));
        blocks.push(Block::List("> ", cause.remedies.clone()));
        let settles = cause.tell_apart.as_ref();
        blocks.extend(settles.map(|test| Block::List("? ", vec![format!("To be sure: {test}")])));
        blocks
    });
    let section = Section::new("What is wrong, and what to do", blocks.collect()).at("causes");
    (!causes.is_empty()).then_some(section)
}

/// What stands above them: of a part that is to be replaced they are those of the next one.
pub(in crate::report) fn dangers_title(assessment: &Assessment) -> &'static str {
    if assessment.diagnosis.blames_the_part(assessment.verdict) {
        "Before you fit another one"
    } else {
        "Before you fit it"
    }
}

/// What the wiring could do to a good part, a sentence each.
pub(in crate::report) fn dangers(assessment: &Assessment) -> Vec<String> {
    let dangers = &assessment.diagnosis.wiring_dangers;
    let shared = assessment.diagnosis.shared_change();
    let each = dangers.iter().map(|danger| {
        let change = danger.change.as_deref().filter(|_| shared.is_none());
        let text = format!(
            "Wiring, {}: if the {}, it reads {} (noticed: {}). {}",
            danger.channel,
            danger.fault,
            danger.reads,
            danger.caught,
            change.unwrap_or_default()
        );
        text.trim_end().to_owned()
    });
    each.chain(shared.clone()).collect()
}

/// The same, its first letter large.
fn sentence(clause: &str) -> String {
    let mut letters = clause.chars();
    letters.next().map_or_else(String::new, |first| {
        format!("{}{}", first.to_uppercase(), letters.as_str())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clause_becomes_a_sentence() {
        assert_eq!(sentence("the track is worn"), "The track is worn");
        assert_eq!(sentence(""), "");
    }
}
