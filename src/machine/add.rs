//! A file that is to be added: which control a recording is of.

use super::commands::value;
use super::types::{Evidence, EvidenceKind, Machine, day, minute};
use crate::outlet;
use crate::profile;
use jiff::Timestamp;
use thiserror::Error;

/// A file as it was seen.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NewEvidence {
    pub kind: EvidenceKind,
    /// Relative to the machine's file.
    pub file: String,
    pub sha256: String,
    pub taken: String,
    /// The control that whoever adds it says it is of.
    pub asked: Option<String>,
    /// The tag and the profile that a recording names.
    pub tag: Option<String>,
    pub profile: Option<String>,
}

#[derive(Debug, Error, PartialEq, Eq)]
pub enum AddError {
    #[error(
        "{file} is the recording of {other} already, and one recording is of one control: add the one of {control}; if it is not {other}'s, add that one's own first"
    )]
    OfOther {
        file: String,
        other: String,
        control: String,
    },
    #[error("there is no control `{name}`: the machine has {known}")]
    NoControl { name: String, known: String },
    #[error("{file} is a {}, which is of the whole machine: leave --control out", kind.word())]
    OfNoControl { file: String, kind: EvidenceKind },
    #[error("which control is {file} a recording of? Say --control NAME; the machine has {known}")]
    Unclear { file: String, known: String },
    #[error(
        "{file} was recorded as {is}; this machine has only: {control} ({profile}). Nothing added. If it is the {control}: --control {control}"
    )]
    OtherKind {
        file: String,
        is: String,
        control: String,
        profile: String,
    },
    #[error(
        "{file} is a recording of {is}, and the machine's {control} is {tag}: are two recordings changed over? {now}"
    )]
    OtherTag {
        file: String,
        is: String,
        control: String,
        tag: String,
        /// What to do where they are not.
        now: String,
    },
}

impl Machine {
    /// Takes it in; gives what was added, `None` when the same file with the same content is there as the newest of its kind already.
    /// `file`: the machine's own, as it is typed.
    pub fn take(&mut self, new: &NewEvidence, file: &str) -> Result<Option<Evidence>, AddError> {
        let control = self.control_of(new, file)?;
        let evidence = Evidence {
            kind: new.kind,
            control,
            file: new.file.clone(),
            sha256: new.sha256.clone(),
            taken: new.taken.clone(),
        };
        // A proof is of the constants in force when it was added; of newer ones it may be added again.
        let since = match evidence.kind {
            EvidenceKind::Capture => 0,
            EvidenceKind::Block => self.newest_block().unwrap_or(0),
            EvidenceKind::Proof => self.newest_block().map_or(0, |at| at + 1),
        };
        let same = |had: &Evidence| {
            let parts = |of: &Evidence| (of.kind, of.control.clone());
            parts(had) == parts(&evidence)
                && (&had.file, &had.sha256) == (&evidence.file, &evidence.sha256)
        };
        if self.evidence[since..].iter().any(same) {
            return Ok(None);
        }
        self.evidence.push(evidence.clone());
        Ok(Some(evidence))
    }

    /// Of a recording that was added: that it does not count, or which one of the same control was there and is dated later, told. `file`:
    /// the machine's own, as it is typed.
    pub fn dated_before(&self, added: &Evidence, file: &str) -> Option<String> {
        let at = self.evidence.iter().rposition(|had| had == added)?;
        let taken = added.taken_at()?;
        let control = self.control(added.control.as_deref()?)?;
        if let Some(since) = control.since().filter(|since| taken < *since) {
            return Some(format!(
                "{} was recorded {}, before {} was changed ({}): it does not count. If it is of what is there now: pedalproof machine change \
                 {file} --control {} --since {}",
                added.file,
                minute(taken),
                control.name,
                minute(since),
                control.name,
                outlet::quoted(&added.taken)
            ));
        }
        let is_newer =
            |had: &&Evidence| self.is_of(had, &control.name) && had.taken_at() > Some(taken);
        let there = self.evidence[..at].iter().filter(is_newer);
        let newest = there.max_by_key(|had| had.taken_at())?;
        Some(format!(
            "{} is dated {}, before {}, which is there and counts ({}): is a clock wrong?",
            added.file,
            day(taken),
            newest.file,
            day(newest.taken_at()?)
        ))
    }

    fn control_of(&self, new: &NewEvidence, file: &str) -> Result<Option<String>, AddError> {
        let known = || {
            let names: Vec<_> = self.controls.iter().map(|c| c.name.as_str()).collect();
            names.join(", ")
        };
        if new.kind != EvidenceKind::Capture {
            return match &new.asked {
                None => Ok(None),
                Some(_) => Err(AddError::OfNoControl {
                    file: new.file.clone(),
                    kind: new.kind,
                }),
            };
        }
        let by_name = |name: &String| {
            self.control(name).ok_or_else(|| AddError::NoControl {
                name: outlet::line(name).into_owned(),
                known: known(),
            })
        };
        let control = match &new.asked {
            Some(name) => by_name(name)?,
            None => self.guess(new).ok_or_else(|| AddError::Unclear {
                file: new.file.clone(),
                known: known(),
            })?,
        };
        if new.asked.is_none()
            && let Some(is) = other_kind(control, new)
        {
            return Err(AddError::OtherKind {
                file: new.file.clone(),
                is: outlet::line(&is).into_owned(),
                control: control.name.clone(),
                profile: outlet::line(&control.profile).into_owned(),
            });
        }
        if let (Some(tag), Some(is)) = (&control.tag, &new.tag)
            && tag != is
        {
            return Err(AddError::OtherTag {
                file: new.file.clone(),
                is: outlet::line(is).into_owned(),
                now: self.replaced(control, (is, &new.taken), file),
                control: control.name.clone(),
                tag: tag.clone(),
            });
        }
        match self.other_with(&control.name, &new.sha256) {
            Some(other) => Err(AddError::OfOther {
                file: new.file.clone(),
                other: other.name.clone(),
                control: control.name.clone(),
            }),
            None => Ok(Some(control.name.clone())),
        }
    }

    /// What to do where a recording is of another part than the control's: that part may have taken its place.
    fn replaced(
        &self,
        control: &super::Control,
        (tag, recorded): (&str, &str),
        file: &str,
    ) -> String {
        let taken = recorded.parse::<Timestamp>().ok();
        if let (Some(since), Some(taken)) = (control.since(), taken)
            && taken < since
        {
            return format!(
                "It was recorded before {} was changed ({}): it is of what was there before",
                control.name,
                day(since)
            );
        }
        let change = format!(
            "pedalproof machine change {file} --control {} --tag{}",
            control.name,
            value(tag)
        );
        let newest = self.newest_capture(&control.name);
        let newest = newest.and_then(|at| self.evidence[at].taken_at());
        if newest.is_none_or(|newest| Some(newest) < taken) {
            let since = outlet::quoted(recorded);
            return format!("If {tag} took its place: {change} --since {since}");
        }
        format!("If {tag} took its place since, measure it again after: {change}")
    }

    /// By tag, then by profile, then the only one there is.
    fn guess(&self, new: &NewEvidence) -> Option<&super::Control> {
        let only = |fits: &dyn Fn(&super::Control) -> bool| {
            let mut fitting = self.controls.iter().filter(|control| fits(control));
            fitting.next().filter(|_| fitting.next().is_none())
        };
        let tag = new.tag.as_deref();
        only(&|control| control.tag.is_some() && control.tag.as_deref() == tag)
            .or_else(|| only(&|control| tag.is_some_and(|tag| tag.ends_with(&control.name))))
            .or_else(|| {
                let is = new.profile.as_deref().and_then(full_name);
                only(&|control| is.is_some() && full_name(&control.profile) == is)
            })
            .or_else(|| only(&|_| true))
    }
}

/// What a recording was made as, where neither its tag nor that is the control's.
fn other_kind(control: &super::Control, new: &NewEvidence) -> Option<String> {
    let tag = new.tag.as_deref();
    let by_tag =
        tag.is_some_and(|tag| control.tag.as_deref() == Some(tag) || tag.ends_with(&control.name));
    let (is, of) = (
        full_name(new.profile.as_deref()?)?,
        full_name(&control.profile)?,
    );
    (!by_tag && is != of).then_some(is)
}

/// What a built-in profile calls itself, by any of its names.
fn full_name(profile: &str) -> Option<String> {
    profile::find(profile).map(|profile| profile.name)
}
