//! `pedalproof profile`: list, check, new, schema.

use super::{Outcome, args, assess, print};
use crate::bench::{DeriveOptions, Taken, derive};
use crate::capture;
use crate::profile;
use crate::report::profile_text;
use std::fmt::Write as _;

pub(super) fn run(wanted: &args::Profile) -> anyhow::Result<Outcome> {
    match &wanted.what {
        None => print(&list())?,
        Some(args::ProfileCommand::Check { profile }) => {
            print(&profile_text::render(&assess::named(profile)?))?;
        }
        Some(args::ProfileCommand::New(new)) => start(new)?,
        Some(args::ProfileCommand::Schema) => print(&profile::schema_json())?,
    }
    Ok(Outcome::Good)
}

fn list() -> String {
    let mut list = String::new();
    for short in profile::built_in_names() {
        let name = profile::find(short)
            .map(|profile| profile.name)
            .unwrap_or_default();
        let _ = writeln!(list, "{short:<26} {name}");
    }
    list
}

fn start(new: &args::NewProfile) -> anyhow::Result<()> {
    let base = new.base.as_deref().map(assess::named).transpose()?;
    let mut opened = Vec::new();
    for path in &new.from {
        let capture = capture::open(path)?;
        if let Some(lost) = &capture.capture.lost {
            eprintln!("{}: {lost}", path.display());
        }
        opened.push((path.display().to_string(), capture));
    }
    let taken: Vec<Taken<'_>> = opened.iter().map(|(file, o)| (file.as_str(), o)).collect();
    let wish = DeriveOptions {
        name: &new.name,
        kind: new.kind.map(Into::into),
        base: base.as_ref(),
    };
    let derived = derive(&taken, &wish)?;
    match &new.out {
        None => print(&derived.profile.to_json())?,
        Some(path) => {
            profile::create(path, &derived.profile)?;
            eprintln!(
                "wrote {0}; explained by: pedalproof profile check {0}",
                path.display()
            );
        }
    }
    for note in derived.notes.iter().chain(&derived.profile.cautions()) {
        eprintln!("note: {note}");
    }
    Ok(())
}
