//! `pedalproof ports`.

use crate::cli::outcome::Outcome;
use crate::cli::output::print;
use crate::link::{Access, candidates, port_advice};
use crate::outlet::tell;
use std::fmt::Write as _;

pub(in crate::cli) fn run() -> anyhow::Result<Outcome> {
    let candidates = candidates()?;
    let mut out = String::new();
    for candidate in &candidates {
        let access = match candidate.access {
            Access::Open => "may be opened",
            _ => "may not be opened",
        };
        let _ = writeln!(
            out,
            "{:<16} {access:<18} {}",
            candidate.path,
            candidate.describe()
        );
    }
    print(&out)?;
    if let Some(advice) = port_advice(&candidates) {
        tell!("{advice}");
    }
    Ok(Outcome::Good)
}
