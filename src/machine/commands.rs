//! The commands that a person types next.

use super::types::{Control, Machine};
use crate::outlet::quoted;

/// Commands for one machine, to be typed in its folder.
#[derive(Debug, Clone)]
pub struct Commands<'a> {
    pub machine: &'a Machine,
    /// The machine's file, without its folder.
    pub file: &'a str,
}

/// Where the port stands in a command.
const PORT: &str = "PORT";
/// Inputs that the board's firmware has unless it is built for more.
const USUAL_INPUTS: usize = 3;

/// A value as it stands behind its option: one that begins like an option is joined to it.
pub(super) fn value(word: &str) -> String {
    let by = if word.starts_with('-') { '=' } else { ' ' };
    format!("{by}{}", quoted(word))
}

impl Commands<'_> {
    /// The machine's file without its ending: what its files are called.
    fn stem(&self) -> &str {
        self.file.strip_suffix(".json").unwrap_or(self.file)
    }

    fn adding(&self, file: &str, control: Option<&str>) -> String {
        let control = control.map_or_else(String::new, |name| format!(" --control {name}"));
        format!(
            "pedalproof machine add {} {}{control}",
            quoted(self.file),
            quoted(file)
        )
    }

    /// A name that no evidence has yet: `T1-pedal`, then `T1-pedal-2`.
    pub fn free(&self, base: &str, end: &str) -> String {
        let taken = |name: &str| {
            let mut evidence = self.machine.evidence.iter();
            evidence.any(|had| had.file.strip_suffix(end).is_some_and(|stem| stem == name))
        };
        let names = std::iter::once(base.to_owned()).chain((2..).map(|n| format!("{base}-{n}")));
        names
            .into_iter()
            .find(|name| !taken(name))
            .unwrap_or_default()
    }

    /// The name of the next recording of a control, without its ending.
    pub fn recording_name(&self, control: &Control) -> String {
        self.free(&format!("{}-{}", self.stem(), control.name), ".csv")
    }

    pub fn block_name(&self) -> String {
        self.free(self.stem(), ".block.json") + ".block.json"
    }

    pub fn measure(&self, control: &Control) -> String {
        let out = self.recording_name(control);
        let usual = format!("{}-{}", self.stem(), control.name);
        let tag = control.tag.as_deref().unwrap_or(&usual);
        format!(
            "pedalproof record --port {PORT} --profile {} --tag{} --out {} && {}",
            quoted(&control.profile),
            value(tag),
            quoted(&out),
            self.adding(&format!("{out}.csv"), Some(&control.name))
        )
    }

    /// The profile for the advised change of the wiring, and that the control is wired so from now on.
    pub fn rewire(&self, control: &Control) -> String {
        let usual = format!("{}-{}-rewired", self.stem(), control.name);
        let of_it = |name: &str| self.machine.controls.iter().any(|had| had.profile == name);
        let names = std::iter::once(usual.clone()).chain((2..).map(|n| format!("{usual}-{n}")));
        let mut names = names.map(|name| format!("{name}.json"));
        let profile = names.find(|name| !of_it(name)).unwrap_or_default();
        format!(
            "{} --profile-out {} && pedalproof machine change {} --control {} --profile {}",
            Self::wiring(control),
            quoted(&profile),
            quoted(self.file),
            control.name,
            quoted(&profile)
        )
    }

    pub fn wiring(control: &Control) -> String {
        format!("pedalproof wiring {}", quoted(&control.profile))
    }

    /// `inputs`: how many the board has for all of them, where that is known.
    pub fn constants(&self, inputs: usize) -> String {
        self.made(inputs, "")
    }

    /// The same, with what stands against them accepted.
    pub fn accepting(&self, inputs: usize) -> String {
        self.made(inputs, " --accept \"your reason\"")
    }

    fn made(&self, inputs: usize, accept: &str) -> String {
        let newest = |control: &Control| {
            let at = self.machine.newest_capture(&control.name)?;
            Some(quoted(&self.machine.evidence[at].file))
        };
        let captures: Vec<String> = self.machine.controls.iter().filter_map(newest).collect();
        let profiles = self.machine.controls.iter();
        let profiles: Vec<String> = profiles
            .map(|control| format!("--profile {}", quoted(&control.profile)))
            .collect();
        let out = self.block_name();
        let built_for = if inputs > USUAL_INPUTS {
            format!(" --core-inputs {inputs}")
        } else {
            String::new()
        };
        format!(
            "pedalproof constants {} {}{built_for}{accept} --format json --out {} && {}",
            captures.join(" "),
            profiles.join(" "),
            quoted(&out),
            self.adding(&out, None)
        )
    }

    pub fn prove(&self, faults: bool) -> String {
        let block = self.machine.newest_block();
        let block = block.map_or("BLOCK", |at| &self.machine.evidence[at].file);
        let part = if faults { "faults" } else { "output" };
        let out = self.free(&format!("{}-{part}", self.stem()), ".csv");
        let faults = if faults { " --faults" } else { "" };
        format!(
            "pedalproof prove --block {} --port {PORT}{faults} --out {} && {}",
            quoted(block),
            quoted(&out),
            self.adding(&format!("{out}.csv"), None)
        )
    }
}
