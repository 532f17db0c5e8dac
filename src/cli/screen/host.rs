//! What the screen asks of the system.

use super::job::job;
use super::{begin, boards, imports, machines, offers, proofs, recent_profiles, records, run};
use crate::bench::{self, Asking, Presence, Run, RunCommand, Setup, TellApart};
use crate::capture;
use crate::cli::output::temporary_folder;
use crate::cli::screen_args::ScreenArgs;
use crate::cli::simulated::{DemoUnit, SimulatedBoard, demo_units, marked, profile_of};
use crate::link::{SerialSettings, SerialSource, Source, WhenLost};
use crate::profile::{self, Profile};
use crate::record::Assessment;
use crate::tui::{
    BlockOffer, Choice, EarlierOffer, EarlierRun, FITTING, FileAnswers, FileRead, Host, Job,
    MachinePage, NewMachine, ProofChoice, ProofRecording, ProofResult, RunHandles, SourceKind,
    SourceOffer, Subject, UnitSummary,
};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::Sender;
use std::thread::JoinHandle;
use tempfile::TempDir;

/// The host of the screen: ports, simulated boards, captures, the disk.
pub(super) struct BenchHost {
    baud: Option<u32>,
    /// The port that was asked for.
    pub(super) port: Option<String>,
    pub(super) boards: Vec<SimulatedBoard>,
    runs: Vec<JoinHandle<()>>,
    commands: Vec<Sender<RunCommand>>,
    temporary: TempDir,
    /// Whether the run is of a real board: only then is a record kept.
    real: bool,
    /// The capture that the run writes.
    pub(super) out: Option<PathBuf>,
    /// The block named on the command line.
    block: Option<BlockOffer>,
    /// The machine's file, when one is open.
    pub(super) machine: Option<PathBuf>,
    /// The machine's control that the run is of.
    control: Option<String>,
    /// How much faster than life simulated boards run.
    pub(super) speed: f64,
}

impl BenchHost {
    pub(super) fn new(args: &ScreenArgs, block: Option<&Path>) -> anyhow::Result<Self> {
        Ok(Self {
            baud: args.baud,
            port: None,
            boards: Vec::new(),
            runs: Vec::new(),
            commands: Vec::new(),
            temporary: temporary_folder("bench")?,
            real: false,
            out: None,
            block: block.map(proofs::named).transpose()?,
            machine: None,
            control: None,
            speed: 1.0,
        })
    }

    /// Keeps a run until its capture is ended, and gives the screen both ends of it.
    pub(super) fn keep(&mut self, run: Run) -> RunHandles {
        let (events, commands, thread) = run.apart();
        self.runs.push(thread);
        self.commands.push(commands.clone());
        RunHandles { events, commands }
    }

    /// Ends every run, so that nothing of a capture is left behind.
    pub(super) fn leave(self) {
        for commands in self.commands {
            let _ = commands.send(RunCommand::Stop);
        }
        for run in self.runs {
            let _ = run.join();
        }
    }

    fn proof_of(&mut self, choice: &ProofChoice) -> anyhow::Result<Run> {
        let (source, board) = proofs::source(choice, self.baud, self.speed)?;
        let name = run::capture_name(Some("board"));
        let out = match &board {
            Some(_) => self.temporary.path().join(name),
            None => PathBuf::from(name),
        };
        self.boards.extend(board);
        Ok(bench::start(proofs::setup(choice, source, out, self.baud)))
    }

    fn run_on(&mut self, choice: &Choice) -> anyhow::Result<Run> {
        let name = &choice.source.name;
        let tag = choice.tag.clone().or_else(|| choice.source.tag.clone());
        let profile = choice.profile.clone().map(Arc::new);
        let file = run::capture_name(tag.as_deref());
        // With a simulated hand that goes through a script, or one of yesterday, nothing can be tried.
        let mut simulated = None;
        let (source, out): (Box<dyn Source>, _) = match choice.source.kind {
            SourceKind::Port => {
                let settings = SerialSettings {
                    path: name.clone(),
                    baud: self.baud,
                    when_lost: WhenLost::Wait,
                };
                let source = SerialSource::open(settings)?;
                self.out = Some(PathBuf::from(&file));
                (Box::new(source), PathBuf::from(file))
            }
            SourceKind::Simulated => {
                let unit = match (&choice.profile, name.as_str()) {
                    (Some(profile), FITTING) => {
                        DemoUnit::fitting(profile, tag.as_deref().unwrap_or("part"))?
                    }
                    _ => DemoUnit::named(name, 1)?,
                };
                let (source, board) = unit.board(self.speed);
                self.boards.push(board);
                simulated = Some(unit);
                (source, self.temporary.path().join(file))
            }
            SourceKind::Capture => {
                let opened = capture::open(Path::new(name))?;
                // What is gone through again is no earlier run.
                self.out = Some(PathBuf::from(name));
                let is_simulated = opened.capture.meta.simulated;
                let replay: Box<dyn Source> = Box::new(run::replay(name, opened.capture)?);
                let source = if is_simulated { marked(replay) } else { replay };
                (source, self.temporary.path().join(file))
            }
            SourceKind::Foreign => {
                let answers = choice.source.answers.clone().unwrap_or_default();
                let read = move || imports::recorded(&answers, tag).map_err(|e| format!("{e:#}"));
                let out = self.temporary.path().join(file);
                return Ok(bench::start_imported(read, profile, out));
            }
        };
        let is_port = choice.source.kind == SourceKind::Port;
        let channels = match (&self.machine, &choice.control) {
            (Some(machine), Some(control)) if is_port => boards::channels(machine, control)?,
            _ => Vec::new(),
        };
        let answers = simulated.as_ref().map(DemoUnit::tell_apart);
        let run = bench::start(Setup {
            channels,
            baud: self.baud.filter(|_| is_port),
            asking: Asking {
                presence: Presence::Somebody,
                tell_apart: match answers {
                    Some(answers) => answers,
                    None if is_port => TellApart::Ask,
                    None => TellApart::Never,
                },
            },
            ..Setup::card(source, profile, tag, out)
        });
        Ok(match simulated {
            Some(unit) => unit.watched(run),
            None => run,
        })
    }
}

impl Host for BenchHost {
    fn sources(&mut self) -> Vec<SourceOffer> {
        let mut offers = offers::ports(self.port.as_deref());
        offers.extend(demo_units().map(|(name, word)| SourceOffer {
            tag: Some((*name).to_owned()),
            profile: profile::find(profile_of(name)).map(|profile| profile.name),
            ..SourceOffer::new(SourceKind::Simulated, *name, *word)
        }));
        offers.extend(offers::captures());
        offers.extend(offers::foreign());
        offers
    }

    fn read_file(&mut self, answers: &FileAnswers) -> Job<FileRead> {
        let answers = answers.clone();
        job(move || imports::look(&answers))
    }

    fn start(&mut self, choice: &Choice) -> Result<RunHandles, String> {
        self.out = None;
        let run = self.run_on(choice).map_err(|e| format!("{e:#}"))?;
        self.real = choice.source.kind == SourceKind::Port;
        self.control.clone_from(&choice.control);
        if let Some(profile) = &choice.profile {
            recent_profiles::used(&profile.name);
        }
        Ok(self.keep(run))
    }

    fn save(&mut self, assessment: &Assessment, capture: Option<&Path>) -> Result<String, String> {
        // What was saved now is no earlier run.
        self.out = capture.map(Path::to_owned).or(self.out.take());
        let saved = run::save(assessment, capture, self.real).map_err(|e| format!("{e:#}"))?;
        match (&self.machine, &self.control, capture) {
            (Some(machine), Some(control), Some(capture)) => {
                let kept = Path::new(capture.file_name().unwrap_or_default());
                let added = machines::added(machine, kept, Some(control));
                let added = added.map_err(|e| format!("{saved}; but not added: {e:#}"))?;
                Ok(format!("{added}; {saved}"))
            }
            _ => Ok(saved),
        }
    }

    fn units(&mut self) -> Job<Vec<UnitSummary>> {
        records::units()
    }

    fn page(&mut self, subject: &Subject) -> Job<String> {
        records::page(subject, self.machine.clone())
    }

    fn earlier(&mut self, tag: &str) -> Job<Vec<EarlierOffer>> {
        records::earlier(tag, self.out.clone())
    }

    fn fetch(&mut self, offer: &EarlierOffer, profile: Option<&Profile>) -> Job<EarlierRun> {
        records::fetch(offer, profile)
    }

    fn blocks(&mut self) -> Job<Vec<BlockOffer>> {
        let named = self.block.clone();
        job(move || proofs::offered(named))
    }

    fn machine(&mut self) -> Job<MachinePage> {
        match self.machine.clone() {
            Some(file) => machines::page(file),
            None => Box::new(|| Ok(begin::page())),
        }
    }

    fn open_machine(&mut self, file: &Path) {
        self.machine = Some(file.to_owned());
    }

    fn start_machine(&mut self, new: &NewMachine) -> Result<(), String> {
        let file = begin::start(new).map_err(|e| format!("{e:#}"))?;
        self.machine = Some(file);
        Ok(())
    }

    fn prove(&mut self, choice: &ProofChoice) -> Result<RunHandles, String> {
        let run = self.proof_of(choice).map_err(|e| format!("{e:#}"))?;
        Ok(self.keep(run))
    }

    fn judge(&mut self, taken: &ProofRecording) -> Job<ProofResult> {
        let taken = taken.clone();
        job(move || proofs::judge(&taken))
    }

    fn save_proof(&mut self, taken: &ProofRecording) -> Result<String, String> {
        let saved = proofs::save(taken).map_err(|e| format!("{e:#}"))?;
        let Some(machine) = &self.machine else {
            return Ok(saved);
        };
        let kept = Path::new(taken.capture.file_name().unwrap_or_default());
        let added = machines::added(machine, kept, None);
        let added = added.map_err(|e| format!("{saved}; but not added: {e:#}"))?;
        Ok(format!("{added}; {saved}"))
    }
}
