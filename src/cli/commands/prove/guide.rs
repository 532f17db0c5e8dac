//! Leads a person through the faults of `pedalproof prove`: instructions on stderr, Enter skips a step.

use super::ProveArgs;
use crate::bench::{Batch, ProofColumns, RunEvent, StreamInfo};
use crate::cli::progress::{Next, Watcher};
use crate::constants::Block;
use crate::outlet::tell;
use crate::proof::{Guide, GuideSample, Marks, Scaling, Stage, Trial};
use measure::units::Scale;
use std::io::BufRead;
use std::sync::mpsc::{Receiver, channel};

/// One message for every Enter.
fn keys() -> Receiver<()> {
    let (sender, keys) = channel();
    std::thread::spawn(move || {
        for line in std::io::stdin().lock().lines() {
            if line.is_err() || sender.send(()).is_err() {
                break;
            }
        }
    });
    keys
}

/// Leads through the faults while the run goes on; without faults it only checks the columns.
pub(super) struct FaultGuide<'a> {
    args: &'a ProveArgs,
    block: &'a Block,
    guide: Option<Guide>,
    columns: Option<ProofColumns>,
    /// Names of the inputs, in the constants file's order.
    wires: Vec<String>,
    keys: Option<Receiver<()>>,
}

impl<'a> FaultGuide<'a> {
    pub(super) fn new(args: &'a ProveArgs, block: &'a Block) -> Self {
        Self {
            args,
            block,
            guide: None,
            columns: None,
            wires: Vec::new(),
            keys: args.faults.then(keys),
        }
    }

    /// What happened when.
    pub(super) fn marks(&self) -> Marks {
        self.guide
            .as_ref()
            .map(|guide| guide.marks().clone())
            .unwrap_or_default()
    }

    fn begin(&mut self, stream: &StreamInfo) -> anyhow::Result<()> {
        let stated = self.args.stated();
        let mut columns = stream.columns();
        for (name, role) in &mut columns {
            if let Some((_, meta)) = stated.iter().find(|(known, _)| known == name) {
                *role = meta.role;
            }
        }
        let options = self.args.options(self.block);
        let chosen = ProofColumns::choose(&columns, options.inputs, options.output, self.block)?;
        let scale = Scale::new(stream.bits, stream.vref_mv)?;
        let scaling = Scaling::new(self.block, scale, options.conditions(scale))?;
        if self.args.faults {
            let round = Trial::round(self.block, &self.args.round);
            let guide = Guide::new(self.block, scaling, scale.codes(), &round);
            let name = |at: &usize| columns[*at].0.to_owned();
            self.wires = chosen.inputs.iter().map(name).collect();
            announce(&guide, &self.wires);
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
            let glance = GuideSample {
                t_us: *t_us,
                inputs: &inputs,
                output: batch.codes[columns.output][i],
                enable: columns.enable.map(|at| batch.codes[at][i]),
            };
            if guide.push(glance).is_some() {
                announce(guide, &self.wires);
            }
        }
    }
}

fn announce(guide: &Guide, wires: &[String]) {
    let (at, of) = guide.turn();
    let words = guide.stage().describe(wires);
    if guide.stage() == Stage::Done {
        tell!("{words}");
    } else {
        tell!("{}/{of}: {words}", at + 1);
    }
}

impl Watcher for FaultGuide<'_> {
    fn see(&mut self, event: Option<&RunEvent>) -> anyhow::Result<Next> {
        match event {
            Some(RunEvent::Stream(stream)) => self.begin(stream)?,
            Some(RunEvent::Samples(batch)) => self.take(batch),
            _ => {}
        }
        let pressed = self.keys.as_ref().map_or(0, |keys| keys.try_iter().count());
        if let Some(guide) = &mut self.guide {
            for _ in 0..pressed {
                guide.skip();
                announce(guide, &self.wires);
            }
            if guide.stage() == Stage::Done {
                return Ok(Next::Stop);
            }
        }
        Ok(Next::GoOn)
    }

    fn reports_steps(&self) -> bool {
        true
    }
}
