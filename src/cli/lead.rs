//! Leading a person through the faults of `pedalproof prove` while the run goes on: the guide's words on stderr, Enter
//! leaves a step out.

use super::args;
use super::prove::stated;
use super::watch::{Next, Watcher};
use crate::bench::{Batch, ProofColumns, ProofOptions, RunEvent, Taking};
use crate::constants::Block;
use crate::proof::{Guide, Marks, Ruler, Stage};
use measure::units::{Role, Scale};
use std::io::BufRead;
use std::sync::mpsc::{Receiver, channel};

/// One message for every Enter.
fn keys() -> Receiver<()> {
    let (tell, keys) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            if line.is_err() || tell.send(()).is_err() {
                break;
            }
        }
    });
    keys
}

/// Leads through the faults while the run goes on; without faults it only checks the columns.
pub(super) struct Leader<'a> {
    wanted: &'a args::Prove,
    block: &'a Block,
    guide: Option<Guide>,
    columns: Option<ProofColumns>,
    keys: Option<Receiver<()>>,
}

impl<'a> Leader<'a> {
    pub(super) fn new(wanted: &'a args::Prove, block: &'a Block) -> Self {
        Self {
            wanted,
            block,
            guide: None,
            columns: None,
            keys: wanted.faults.then(keys),
        }
    }

    /// What happened when.
    pub(super) fn marks(&self) -> Marks {
        self.guide
            .as_ref()
            .map(|guide| guide.marks().clone())
            .unwrap_or_default()
    }

    fn begin(&mut self, taking: &Taking) -> anyhow::Result<()> {
        let stated = stated(self.wanted);
        let role = |name: &str, track: bool| {
            let said = stated.iter().find(|(known, _)| known == name);
            match said.map(|(_, meta)| meta.role) {
                Some(role) => role,
                None if track => Role::Signal,
                None if matches!(name, "supply" | "vcc" | "vdd") => Role::Supply,
                None => Role::Output,
            }
        };
        let columns: Vec<(&str, Role)> = taking
            .channels
            .iter()
            .map(|(name, track)| (name.as_str(), role(name, track.is_some())))
            .collect();
        let wish = ProofOptions {
            block: self.block,
            inputs: self.wanted.inputs.as_deref(),
            output: self.wanted.output.as_deref(),
            board_vref_mv: self.wanted.board_vref_mv,
            dac_vref_mv: self.wanted.dac_vref_mv,
            within_pct: self.wanted.within_pct,
            profile: None,
            marks: Marks::default(),
        };
        let chosen = ProofColumns::choose(&columns, wish.inputs, wish.output, self.block)?;
        let scale = Scale::new(taking.bits, taking.vref_mv)?;
        let ruler = Ruler::new(self.block, scale, wish.bench(scale))?;
        if self.wanted.faults {
            let guide = Guide::new(self.block, ruler, scale.codes(), &self.wanted.round);
            tell(&guide);
            self.guide = Some(guide);
        }
        self.columns = Some(chosen);
        Ok(())
    }

    fn take(&mut self, batch: &Batch) {
        let (Some(guide), Some(columns)) = (&mut self.guide, &self.columns) else {
            return;
        };
        for (i, t_us) in batch.t_us.iter().enumerate() {
            let inputs: Vec<_> = columns
                .inputs
                .iter()
                .map(|at| batch.codes[*at][i])
                .collect();
            if guide
                .push(*t_us, &inputs, batch.codes[columns.output][i])
                .is_some()
            {
                tell(guide);
            }
        }
    }
}

fn tell(guide: &Guide) {
    let (at, of) = guide.turn();
    if guide.stage() == Stage::Done {
        eprintln!("{}", guide.stage().words());
    } else {
        eprintln!("{}/{of}: {}", at + 1, guide.stage().words());
    }
}

impl Watcher for Leader<'_> {
    fn see(&mut self, event: Option<&RunEvent>) -> anyhow::Result<Next> {
        match event {
            Some(RunEvent::Taking(taking)) => self.begin(taking)?,
            Some(RunEvent::Samples(batch)) => self.take(batch),
            _ => {}
        }
        let pressed = self.keys.as_ref().map_or(0, |keys| keys.try_iter().count());
        if let Some(guide) = &mut self.guide {
            for _ in 0..pressed {
                guide.skip();
                tell(guide);
            }
            if guide.stage() == Stage::Done {
                return Ok(Next::Stop);
            }
        }
        Ok(Next::GoOn)
    }

    fn tells_steps(&self) -> bool {
        true
    }
}
