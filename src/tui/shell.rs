//! The loop: one wait per turn on one channel, effects carried out, a frame when something has changed.

use super::host::{Host, Job, RunHandles};
use super::message::{Effect, Message};
use super::run::Phase;
use super::session::Prompting;
use super::state::{State, update};
use super::terminal::{self, Mouse, SystemRequest, TerminalControl, TerminalSession};
use super::theme::Theme;
use super::view::view;
use crate::bench::{RunCommand, RunEvent};
use crate::profile::Profile;
use crate::record::Assessment;
use measure::judge::Verdict;
use ratatui::Terminal;
use ratatui::backend::Backend;
use std::mem::ManuallyDrop;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, Sender, SyncSender};
use std::thread;
use std::time::{Duration, Instant};
use thiserror::Error;

/// Least time between two frames: 30 a second.
const FRAME: Duration = Duration::from_millis(33);

/// Longest wait without a message.
const TICK: Duration = Duration::from_millis(250);

/// How long a run that was told to stop may take to say that it has.
const STOPPING: Duration = Duration::from_secs(3);

/// Messages that wait to be taken in: so many samples at most lie between a key and its answer, and memory has an end when the
/// terminal stands still. Whoever has one more waits; the run does not, it keeps its samples (`bench`).
const WAITING: usize = 16;

/// Messages taken in before a frame is drawn although more are waiting.
const AT_A_TIME: usize = WAITING;

/// What the screen opens on.
#[allow(clippy::large_enum_variant)] // made once a program
pub enum Opening {
    /// The list of sources, with the profiles that can be chosen, the likeliest first.
    Choose(Vec<Profile>),
    /// The page of a machine, with the profiles that can be chosen for another part.
    Machine(Vec<Profile>),
    /// A run that has begun.
    Run {
        handles: RunHandles,
        /// What the unit is checked as.
        profile: Option<Profile>,
        source: String,
        tag: Option<String>,
    },
}

/// How it ended.
#[derive(Debug, Clone, PartialEq)]
pub struct Ending {
    /// The last assessment; absent when no sample was taken.
    pub assessment: Option<Arc<Assessment>>,
    /// The capture, when one was written.
    pub capture: Option<PathBuf>,
    /// What was saved, in the words of [`Host::save`].
    pub saved: Option<String>,
    /// Why the run could not go on, when that is how it ended.
    pub failed: Option<String>,
    /// What the proof of a flashed board came to, when the run was one and was judged.
    pub proved: Option<Verdict>,
}

#[derive(Debug, Error)]
pub enum ScreenError {
    /// No terminal at both ends.
    #[error(
        "the screen needs a terminal for its input and output: use `record` and `assess` instead"
    )]
    NoTerminal,
    /// The terminal refused.
    #[error("the terminal refused: {0}\n  try another terminal, or `record` and `assess` instead")]
    Terminal(#[from] std::io::Error),
}

/// The one channel that the loop waits on.
pub fn inbox() -> (SyncSender<Message>, Receiver<Message>) {
    mpsc::sync_channel(WAITING)
}

/// Shows the screen until the person leaves it. The run, if any, has been told to stop by then.
///
/// # Errors
/// When there is no terminal, or it refuses.
pub fn show(
    opening: Opening,
    theme: Theme,
    mouse: Mouse,
    prompting: Prompting,
    host: &mut dyn Host,
) -> Result<Ending, ScreenError> {
    if !terminal::is_there() {
        return Err(ScreenError::NoTerminal);
    }
    let (post, inbox) = inbox();
    let mut session = TerminalSession::take(post.clone(), mouse)?;
    // Never dropped: it would tell of a cursor that cannot be shown, and end the program where nobody hears that. The session shows it.
    let mut terminal = ManuallyDrop::new(TerminalSession::terminal()?);
    let mut runner = EffectRunner::new(host, post);
    let mut state = runner.open(opening, theme);
    state.session.prompting = prompting;
    let drawn = drive(&mut terminal, &mut session, &mut runner, &mut state, &inbox);
    drop(session);
    drawn?;
    Ok(ending(&state))
}

fn ending(state: &State) -> Ending {
    let run = &state.session.run;
    Ending {
        assessment: run.assessment.clone(),
        capture: run.capture.clone(),
        saved: run.saved.clone().and_then(Result::ok),
        proved: run.proved,
        failed: match &run.phase {
            Phase::Failed(why) => Some(why.clone()),
            Phase::Live | Phase::Finished => None,
        },
    }
}

pub struct EffectRunner<'a> {
    host: &'a mut dyn Host,
    post: SyncSender<Message>,
    commands: Option<Sender<RunCommand>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Turn {
    GoOn,
    Suspend,
    Leave,
}

impl<'a> EffectRunner<'a> {
    /// A runner whose answers go to `post`.
    pub fn new(host: &'a mut dyn Host, post: SyncSender<Message>) -> Self {
        Self {
            host,
            post,
            commands: None,
        }
    }

    /// The state to begin with; attaches the run, or asks for sources.
    pub fn open(&mut self, opening: Opening, theme: Theme) -> State {
        match opening {
            Opening::Choose(profiles) => {
                let mut state = State::choosing(theme, profiles);
                update(&mut state, Message::Sources(self.host.sources()));
                state
            }
            Opening::Machine(profiles) => {
                let state = State::at_machine(theme, profiles);
                self.look_up(&state, Effect::Machine);
                state
            }
            Opening::Run {
                handles,
                profile,
                source,
                tag,
            } => {
                self.attach(handles);
                State::at_run(theme, profile, source, tag)
            }
        }
    }

    /// Passes a run's events on into the one channel, until the run or the screen is gone.
    fn attach(&mut self, handles: RunHandles) {
        let RunHandles { events, commands } = handles;
        self.commands = Some(commands);
        let post = self.post.clone();
        thread::spawn(move || {
            for event in events {
                let last = matches!(event, RunEvent::Finished { .. } | RunEvent::Failed(_));
                if post.send(Message::Run(event)).is_err() || last {
                    return;
                }
            }
            let _ = post.send(Message::RunGone);
        });
    }

    /// Has what an effect asks for looked up elsewhere.
    fn look_up(&mut self, state: &State, effect: Effect) {
        let post = &self.post;
        match effect {
            Effect::Units => spawn(post, self.host.units(), Message::Units),
            Effect::Page(subject) => spawn(post, self.host.page(&subject), |answer| {
                Message::Page(subject, answer)
            }),
            Effect::ReadFile(answers) => spawn(post, self.host.read_file(&answers), |read| {
                Message::FileRead(answers, read)
            }),
            Effect::Earlier(tag) => spawn(post, self.host.earlier(&tag), Message::Earlier),
            Effect::Fetch(offer) => {
                let job = self.host.fetch(&offer, state.session.run.profile.as_ref());
                spawn(post, job, |answer| Message::Fetched(Box::new(answer)));
            }
            Effect::Blocks => spawn(post, self.host.blocks(), Message::Blocks),
            Effect::Machine => spawn(post, self.host.machine(), |answer| {
                Message::Machine(Box::new(answer))
            }),
            Effect::Judge(recording) => spawn(post, self.host.judge(&recording), |answer| {
                Message::Proved(recording, answer)
            }),
            _ => {}
        }
    }

    fn carry_out(&mut self, state: &mut State, effects: Vec<Effect>) -> Turn {
        let mut turn = Turn::GoOn;
        for effect in effects {
            let answer = match effect {
                Effect::Rescan => Message::Sources(self.host.sources()),
                Effect::Start(choice) => {
                    let begun = self.host.start(&choice);
                    Message::Started(begun.map(|handles| self.attach(handles)))
                }
                Effect::Prove(choice) => {
                    let begun = self.host.prove(&choice);
                    Message::ProofStarted(begun.map(|handles| self.attach(handles)))
                }
                Effect::OpenMachine(file) => {
                    self.host.open_machine(&file);
                    self.look_up(state, Effect::Machine);
                    continue;
                }
                Effect::StartMachine(new) => Message::MachineStarted(self.host.start_machine(&new)),
                Effect::SaveProof(recording) => Message::Saved(self.host.save_proof(&recording)),
                Effect::Save => match &state.session.run.assessment {
                    Some(found) => {
                        let capture = state.session.run.capture.as_deref();
                        Message::Saved(self.host.save(found, capture))
                    }
                    None => continue,
                },
                Effect::Command(command) => {
                    // A run that has ended listens no more; its last event says so.
                    let _ = self.commands.as_ref().map(|run| run.send(command));
                    continue;
                }
                Effect::Units
                | Effect::Page(_)
                | Effect::ReadFile(_)
                | Effect::Earlier(_)
                | Effect::Fetch(_)
                | Effect::Blocks
                | Effect::Machine
                | Effect::Judge(_) => {
                    self.look_up(state, effect);
                    continue;
                }
                Effect::Suspend => {
                    turn = Turn::Suspend;
                    continue;
                }
                Effect::Bell(times) => {
                    terminal::ring(times);
                    continue;
                }
                Effect::Leave => return Turn::Leave,
            };
            let then = update(state, answer);
            match self.carry_out(state, then) {
                Turn::GoOn => {}
                other => turn = other,
            }
        }
        turn
    }

    fn take(&mut self, state: &mut State, message: Message) -> Turn {
        let effects = update(state, message);
        self.carry_out(state, effects)
    }

    /// Takes in a message and those that wait behind it, so that a burst costs one frame.
    fn take_waiting(
        &mut self,
        state: &mut State,
        first: Message,
        inbox: &Receiver<Message>,
    ) -> Turn {
        let mut turn = self.take(state, first);
        for message in inbox.try_iter().take(AT_A_TIME) {
            let next = self.take(state, message);
            turn = if turn == Turn::GoOn { next } else { turn };
        }
        turn
    }
}

/// Has a job done on a thread of its own, so that the screen goes on; its answer comes as a message.
fn spawn<T: 'static>(
    post: &SyncSender<Message>,
    job: Job<T>,
    message: impl FnOnce(Result<T, String>) -> Message + Send + 'static,
) {
    let post = post.clone();
    thread::spawn(move || {
        // Nobody waits for the answer when the screen has gone.
        let _ = post.send(message(job()));
    });
}

/// Runs the screen on any backend until it is left.
///
/// # Errors
/// When the backend or the terminal refuses; the run has been told to stop.
pub fn drive<B: Backend>(
    terminal: &mut Terminal<B>,
    control: &mut dyn TerminalControl,
    runner: &mut EffectRunner<'_>,
    state: &mut State,
    inbox: &Receiver<Message>,
) -> std::io::Result<()>
where
    B::Error: Send + Sync + 'static,
{
    let outcome = turns(terminal, control, runner, state, inbox);
    if outcome.is_err() {
        runner.carry_out(state, vec![Effect::Command(RunCommand::Stop)]);
    }
    outcome
}

/// What is drawn when, and whether there is anything left to draw on.
struct Frames {
    last: Option<Instant>,
    changed: bool,
    gone: bool,
}

impl Frames {
    /// Draws a frame when one is due. A terminal that took one and takes no more has gone: its window was closed.
    fn draw<B: Backend>(
        &mut self,
        terminal: &mut Terminal<B>,
        state: &mut State,
    ) -> std::io::Result<()>
    where
        B::Error: Send + Sync + 'static,
    {
        let due = self.last.is_none_or(|at| at.elapsed() >= FRAME);
        if self.gone || !self.changed || !due {
            return Ok(());
        }
        match terminal.draw(|frame| view(state, frame)) {
            Ok(_) => (self.last, self.changed) = (Some(Instant::now()), false),
            Err(_) if self.last.is_some() => self.gone = true,
            Err(e) => return Err(std::io::Error::other(e)),
        }
        Ok(())
    }

    /// How long may be waited for a message.
    fn wait(&self) -> Duration {
        match self.last {
            Some(at) if self.changed && !self.gone => FRAME.saturating_sub(at.elapsed()),
            _ => TICK,
        }
    }
}

fn turns<B: Backend>(
    terminal: &mut Terminal<B>,
    control: &mut dyn TerminalControl,
    runner: &mut EffectRunner<'_>,
    state: &mut State,
    inbox: &Receiver<Message>,
) -> std::io::Result<()>
where
    B::Error: Send + Sync + 'static,
{
    let opened = Instant::now();
    let mut frames = Frames {
        last: None,
        changed: true,
        gone: false,
    };
    let mut leaving_since = None::<Instant>;
    loop {
        frames.draw(terminal, state)?;
        let mut turn = match inbox.recv_timeout(frames.wait()) {
            Ok(message) => {
                frames.changed = true;
                runner.take_waiting(state, message, inbox)
            }
            Err(RecvTimeoutError::Timeout) => {
                frames.changed |= state.is_live(); // a clock is on the screen
                Turn::GoOn
            }
            Err(RecvTimeoutError::Disconnected) => Turn::Leave,
        };
        runner.take(state, Message::Tick(opened.elapsed()));
        frames.gone |= control.has_gone();
        let request = if frames.gone {
            // Once, for the second would not wait: who closed the window is owed the recording and its verdict all the same.
            (!state.session.leaving).then_some(SystemRequest::Terminate)
        } else {
            control.request()
        };
        match request {
            _ if turn == Turn::Leave => {}
            Some(SystemRequest::Terminate) => turn = runner.take(state, Message::Terminate),
            Some(SystemRequest::Suspend) => turn = Turn::Suspend,
            Some(SystemRequest::Redraw) => {
                control.retake()?;
                redraw(terminal)?;
                frames.changed = true;
            }
            None => {}
        }
        if state.session.leaving {
            let since = leaving_since.get_or_insert_with(Instant::now);
            if since.elapsed() > STOPPING {
                return Ok(());
            }
        }
        match turn {
            Turn::Leave => return Ok(()),
            Turn::Suspend => {
                control.suspend()?;
                redraw(terminal)?;
                frames.changed = true;
            }
            Turn::GoOn => {}
        }
    }
}

/// Forgets what is on the screen, so that the next frame draws all of it.
fn redraw<B: Backend>(terminal: &mut Terminal<B>) -> std::io::Result<()>
where
    B::Error: Send + Sync + 'static,
{
    let size = terminal.size().map_err(std::io::Error::other)?;
    terminal.resize(size.into()).map_err(std::io::Error::other)
}
