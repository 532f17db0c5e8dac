//! `pedalproof` without a command, and `demo` on a terminal: the screen, and what it asks of the system.

use super::demo::{Board, Unit};
use super::{
    Outcome, args, assess, blocks, demo, flashed, kept, offers, places, recent, record, whole,
};
use crate::bench::{self, EvidencePlan, Plan, Run, Setup};
use crate::capture::{self, metadata_path};
use crate::link::{
    Pace, RecordedLines, ReplaySource, SerialSettings, SerialSource, Source, StreamOptions,
    StreamText, Sums, WhenLost,
};
use crate::profile::{self, Profile};
use crate::record::{Assessment, RecordStore};
use crate::tui::{
    self, BlockOffer, Choice, EarlierOffer, EarlierRun, Ending, Host, Job, Mouse, Opening,
    ProofChoice, ProofTaken, ProofTold, RunHandles, SourceKind, SourceOffer, Subject, Surroundings,
    Theme, UnitSummary,
};
use anyhow::{Context, anyhow};
use simulator::SCENARIO_UNITS;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::Sender;
use std::thread::JoinHandle;

/// How much faster than life a capture is gone through again.
const REPLAY_SPEED: f64 = 4.0;

/// The bench, with the choice of a source.
pub(super) fn open(
    look: &args::Look,
    port: Option<String>,
    block: Option<&Path>,
) -> anyhow::Result<Outcome> {
    let profiles = recent::first(offers::profiles());
    let mut outside = BenchHost::new(look, block)?;
    outside.port = port;
    let ending = tui::show(
        Opening::Choose(profiles),
        theme(look),
        mouse(look),
        &mut outside,
    )?;
    outside.leave();
    told(&ending)
}

/// The bench on a run that has begun.
pub(super) fn watch(
    run: Run,
    board: Board,
    unit: &Unit,
    look: &args::Look,
    out: PathBuf,
    block: Option<&Path>,
) -> anyhow::Result<Outcome> {
    let mut outside = BenchHost::new(look, block)?;
    outside.out = Some(out);
    outside.boards.push(board);
    let source = format!("simulated board {}", unit.tag);
    let opening = Opening::Run {
        handles: outside.keep(run),
        profile: Some((*unit.profile).clone()),
        source,
        tag: Some(unit.tag.clone()),
    };
    let ending = tui::show(opening, theme(look), mouse(look), &mut outside)?;
    outside.leave();
    told(&ending)
}

/// What is left on the terminal when the screen has gone.
fn told(ending: &Ending) -> anyhow::Result<Outcome> {
    if let Some(saved) = &ending.saved {
        println!("{saved}");
    }
    if let Some(failed) = &ending.failed {
        return Err(anyhow!("{failed}"));
    }
    if let Some(verdict) = ending.proved {
        println!("flashed board: {verdict}");
        return Ok(Some(verdict).into());
    }
    let Some(assessment) = &ending.assessment else {
        println!(
            "{}",
            match ending.capture {
                Some(_) => "no verdict",
                None => "no sample was taken",
            }
        );
        return Ok(Outcome::Good);
    };
    let unit = assessment.unit.tag.as_deref().unwrap_or("untagged unit");
    match assessment.verdict {
        Some(verdict) => println!("unit {unit}: {verdict}"),
        None => println!("unit {unit}: no verdict"),
    }
    Ok(assessment.verdict.into())
}

fn mouse(look: &args::Look) -> Mouse {
    if look.mouse {
        Mouse::Screen
    } else {
        Mouse::Terminal
    }
}

fn theme(look: &args::Look) -> Theme {
    let var = |name: &str| std::env::var(name).ok().filter(|value| !value.is_empty());
    let (no_color, colorterm, term) = (var("NO_COLOR"), var("COLORTERM"), var("TERM"));
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(var);
    Theme::fitting(Surroundings {
        no_color: no_color.as_deref(),
        colorterm: colorterm.as_deref(),
        term: term.as_deref(),
        locale: locale.as_deref(),
        ascii: look.ascii,
    })
}

/// The real outside: ports, simulated boards, captures, the disk.
struct BenchHost {
    baud: u32,
    /// The port that was asked for.
    port: Option<String>,
    boards: Vec<Board>,
    runs: Vec<JoinHandle<()>>,
    commands: Vec<Sender<bench::RunCommand>>,
    temporary: demo::Temporary,
    /// Whether the run is of a real board: only then is a record kept.
    real: bool,
    /// The capture that the run writes.
    out: Option<PathBuf>,
    /// The block named on the command line.
    block: Option<BlockOffer>,
    flashed: Vec<flashed::Flashed>,
}

impl BenchHost {
    fn new(look: &args::Look, block: Option<&Path>) -> anyhow::Result<Self> {
        Ok(Self {
            baud: look.baud(),
            port: None,
            boards: Vec::new(),
            runs: Vec::new(),
            commands: Vec::new(),
            temporary: demo::Temporary::new("bench")?,
            real: false,
            out: None,
            block: block.map(blocks::named).transpose()?,
            flashed: Vec::new(),
        })
    }

    /// Keeps a run until its capture is ended, and gives the screen both ends of it.
    fn keep(&mut self, run: Run) -> RunHandles {
        let (events, commands, thread) = run.apart();
        self.runs.push(thread);
        self.commands.push(commands.clone());
        RunHandles { events, commands }
    }

    /// Ends every run, so that nothing of a capture is left behind.
    fn leave(self) {
        for commands in self.commands {
            let _ = commands.send(bench::RunCommand::Stop);
        }
        for run in self.runs {
            let _ = run.join();
        }
    }

    fn proof_of(&mut self, choice: &ProofChoice) -> anyhow::Result<Run> {
        let (source, flashed) = blocks::source(choice, self.baud)?;
        let name = capture_name(Some("board"));
        let out = match &flashed {
            Some(_) => self.temporary.path().join(name),
            None => PathBuf::from(name),
        };
        self.flashed.extend(flashed);
        Ok(bench::start(blocks::setup(choice, source, out, self.baud)))
    }

    fn run_on(&mut self, choice: &Choice) -> anyhow::Result<Run> {
        let name = &choice.source.name;
        let tag = choice.tag.clone().or_else(|| choice.source.tag.clone());
        let profile = choice.profile.clone().map(Arc::new);
        match choice.source.kind {
            SourceKind::Port => {
                let settings = SerialSettings {
                    path: name.clone(),
                    baud: self.baud,
                    when_lost: WhenLost::Wait,
                };
                let source = SerialSource::open(settings)?;
                let out = PathBuf::from(capture_name(tag.as_deref()));
                self.out = Some(out.clone());
                Ok(bench::start(setup(
                    Box::new(source),
                    profile,
                    tag,
                    out,
                    Some(self.baud),
                )))
            }
            SourceKind::Simulated => {
                let unit = Unit::named(name, 1)?;
                let board = Board::start(&unit, 1.0)?;
                let source = board.source(&unit)?;
                self.boards.push(board);
                let out = self.temporary.path().join(capture_name(tag.as_deref()));
                Ok(bench::start(setup(source, profile, tag, out, None)))
            }
            SourceKind::Capture => {
                let opened = capture::open(Path::new(name))?;
                let source = replay(name, opened.capture)?;
                // What is gone through again is no earlier run.
                self.out = Some(PathBuf::from(name));
                let out = self.temporary.path().join(capture_name(tag.as_deref()));
                Ok(bench::start(setup(
                    Box::new(source),
                    profile,
                    tag,
                    out,
                    None,
                )))
            }
        }
    }
}

fn setup(
    source: Box<dyn Source>,
    profile: Option<Arc<Profile>>,
    tag: Option<String>,
    out: PathBuf,
    baud: Option<u32>,
) -> Setup {
    let card = profile
        .as_ref()
        .map_or_else(usual_card, |profile| profile.card.clone());
    let wanted = profile
        .as_ref()
        .map_or_else(EvidencePlan::default, |profile| {
            EvidencePlan::at_first(profile)
        });
    Setup {
        source,
        stream: StreamOptions {
            joined_mid_line: true,
            ..StreamOptions::default()
        },
        plan: Plan::Card(card, wanted),
        profile,
        tag,
        channels: Vec::new(),
        out: Some(out),
        baud,
        live: true,
    }
}

/// The card of a unit without a profile.
fn usual_card() -> Vec<measure::units::Step> {
    use measure::units::Step;
    vec![Step::Rest, Step::Full, Step::Strokes, Step::Release]
}

/// `TAG-20261125-093000.csv`, or with `-2`, `-3`, ... where a clock that was set back has used that name before.
fn capture_name(tag: Option<&str>) -> String {
    let stem = capture_stem(tag);
    let free = |name: &String| {
        let csv = Path::new(name);
        !csv.exists() && !metadata_path(csv).exists()
    };
    std::iter::once(format!("{stem}.csv"))
        .chain((2..=999).map(|n| format!("{stem}-{n}.csv")))
        .find(free)
        .unwrap_or_else(|| format!("{stem}.csv"))
}

fn capture_stem(tag: Option<&str>) -> String {
    let now = jiff::Timestamp::now().strftime("%Y%m%d-%H%M%S");
    let safe = |c: char| {
        if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') {
            c
        } else {
            '_'
        }
    };
    let tag: String = tag
        .filter(|tag| !tag.is_empty())
        .unwrap_or("unit")
        .chars()
        .map(safe)
        .collect();
    format!("{tag}-{now}")
}

/// A capture as a source: its rows printed again.
fn replay(name: &str, capture: capture::Capture) -> anyhow::Result<ReplaySource> {
    let board = &capture.meta.board;
    let names = capture.meta.channels.iter().map(|(name, _)| name.clone());
    let stated = StreamOptions {
        bits: Some(board.bits),
        vref_mv: Some(board.vref_mv),
        rate_hz: Some(board.rate_hz),
        columns: Some(std::iter::once("t_us".to_owned()).chain(names).collect()),
        joined_mid_line: false,
    };
    let header = stated
        .header()
        .with_context(|| format!("capture {name} cannot be gone through again"))?;
    let rows = RecordedLines::new(
        StreamText::new(header, Sums::With),
        capture.t_us,
        capture.codes,
    );
    Ok(ReplaySource::replay(name, rows, Pace::Times(REPLAY_SPEED)))
}

impl Host for BenchHost {
    fn sources(&mut self) -> Vec<SourceOffer> {
        let mut offers = offers::ports(self.port.as_deref());
        offers.extend(SCENARIO_UNITS.iter().map(|(name, word)| SourceOffer {
            kind: SourceKind::Simulated,
            name: (*name).to_owned(),
            detail: (*word).to_owned(),
            blocked: None,
            tag: Some((*name).to_owned()),
            profile: profile::find(demo::profile_of(name)).map(|profile| profile.name),
        }));
        offers.extend(offers::captures());
        offers
    }

    fn start(&mut self, choice: &Choice) -> Result<RunHandles, String> {
        self.out = None;
        let run = self.run_on(choice).map_err(|e| format!("{e:#}"))?;
        self.real = choice.source.kind == SourceKind::Port;
        if let Some(profile) = &choice.profile {
            recent::used(&profile.name);
        }
        Ok(self.keep(run))
    }

    fn save(&mut self, assessment: &Assessment, capture: Option<&Path>) -> Result<String, String> {
        // What was saved now is no earlier run.
        self.out = capture.map(Path::to_owned).or(self.out.take());
        save(assessment, capture, self.real).map_err(|e| format!("{e:#}"))
    }

    fn units(&mut self) -> Job<Vec<UnitSummary>> {
        kept::units()
    }

    fn page(&mut self, subject: &Subject) -> Job<String> {
        kept::page(subject)
    }

    fn earlier(&mut self, tag: &str) -> Job<Vec<EarlierOffer>> {
        kept::earlier(tag, self.out.clone())
    }

    fn fetch(&mut self, offer: &EarlierOffer, profile: Option<&Profile>) -> Job<EarlierRun> {
        kept::fetch(offer, profile)
    }

    fn blocks(&mut self) -> Job<Vec<BlockOffer>> {
        let named = self.block.clone();
        kept::job(move || blocks::offered(named))
    }

    fn prove(&mut self, choice: &ProofChoice) -> Result<RunHandles, String> {
        let run = self.proof_of(choice).map_err(|e| format!("{e:#}"))?;
        Ok(self.keep(run))
    }

    fn judge(&mut self, taken: &ProofTaken) -> Job<ProofTold> {
        let taken = taken.clone();
        kept::job(move || blocks::judge(&taken))
    }

    fn save_proof(&mut self, taken: &ProofTaken) -> Result<String, String> {
        blocks::save(taken).map_err(|e| format!("{e:#}"))
    }
}

/// Keeps the capture in the working folder and the assessment beside it; of a real unit with a tag also a record.
fn save(assessment: &Assessment, capture: Option<&Path>, real: bool) -> anyhow::Result<String> {
    let source =
        capture.ok_or_else(|| anyhow!("there is no capture to save: no sample was taken"))?;
    let name = source
        .file_name()
        .ok_or_else(|| anyhow!("the capture has no name"))?;
    let kept = PathBuf::from(name);
    if source.canonicalize()? != std::env::current_dir()?.join(&kept) {
        record::refuse_overwriting(&kept)?;
        // The capture last: who finds it finds its metadata.
        whole::copy(&metadata_path(source), &metadata_path(&kept))?;
        whole::copy(source, &kept)?;
    }
    let about = capture::about(&kept)?;
    let mut assessment = assessment.clone();
    assessment.capture.file = Some(name.to_string_lossy().into_owned());
    assessment.capture.sha256 = Some(about.sha256);
    let beside = kept.with_extension("assessment.json");
    whole::replace(&beside, &format!("{}\n", assess::json(&assessment)?))?;
    let mut told = format!("saved: {} and {}", kept.display(), beside.display());
    if real && assessment.unit.tag.is_some() {
        let shelf = RecordStore::new(places::records(None)?);
        let record = assess::keep(&shelf, &about.meta, &assessment)?;
        told = format!("{told}; {record}");
    }
    Ok(told)
}
