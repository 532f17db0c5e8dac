//! What cards came to, counted, and what is asked of that.

use super::cards::Card;
use measure::judge::Verdict;
use std::collections::BTreeMap;
use std::fmt;

#[derive(Default)]
struct Row {
    pass: usize,
    fail: usize,
    undecided: usize,
    endless: usize,
    seconds: Vec<f64>,
}

#[derive(Default)]
pub struct Tally {
    rows: BTreeMap<(String, String), Row>,
    /// Cards that came to what they should not.
    strange: Vec<String>,
}

impl Tally {
    pub fn take(&mut self, what: &str, hands: &str, card: &Card, about: impl Fn() -> String) {
        let of = (what.to_owned(), hands.to_owned());
        let row = self.rows.entry(of).or_default();
        match card.verdict {
            Some(Verdict::Pass) => row.pass += 1,
            Some(Verdict::Fail) => row.fail += 1,
            _ => row.undecided += 1,
        }
        row.endless += usize::from(card.ended.endless);
        row.seconds.push(card.ended.seconds);
        let good = what == "good";
        if card.ended.endless
            || good != (card.verdict == Some(Verdict::Pass))
                && (good || card.verdict == Some(Verdict::Pass))
        {
            self.strange.push(about());
        }
    }

    /// Good parts pass in 98 of 100 with careful hands and in 95 with sloppy ones, none fails; bad parts never pass; every
    /// card ends.
    pub fn hold(&self) {
        let mut broken = Vec::new();
        for ((what, hands), row) in &self.rows {
            let n = row.seconds.len();
            let least = if hands == "careful" { 0.98 } else { 0.95 };
            if what == "good" && ((row.pass as f64) < least * n as f64 || row.fail > 0) {
                broken.push(format!(
                    "good, {hands}: {} of {n} pass, {} fail",
                    row.pass, row.fail
                ));
            }
            if what != "good" && row.pass > 0 {
                broken.push(format!("{what}, {hands}: {} of {n} pass", row.pass));
            }
            if row.endless > 0 {
                broken.push(format!("{what}, {hands}: {} never end", row.endless));
            }
        }
        assert!(
            broken.is_empty(),
            "{}\n{}",
            broken.join("\n"),
            self.strange.join("\n")
        );
    }
}

impl fmt::Display for Tally {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            f,
            "| part | hands | cards | pass | fail | undecided | median s | worst s |"
        )?;
        writeln!(f, "| --- | --- | --- | --- | --- | --- | --- | --- |")?;
        for ((what, hands), row) in &self.rows {
            let mut seconds = row.seconds.clone();
            seconds.sort_by(f64::total_cmp);
            writeln!(
                f,
                "| {what} | {hands} | {} | {} | {} | {} | {:.0} | {:.0} |",
                seconds.len(),
                row.pass,
                row.fail,
                row.undecided,
                seconds[seconds.len() / 2],
                seconds[seconds.len() - 1]
            )?;
        }
        for strange in &self.strange {
            writeln!(f, "\n{strange}")?;
        }
        Ok(())
    }
}
