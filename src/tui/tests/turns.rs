//! The loop itself, on a test backend with a scripted host.

use super::scene;
use crate::bench::{RunCommand, RunEvent};
use crate::profile::Profile;
use crate::record::Assessment;
use crate::tui::shell::{EffectRunner, Opening, drive, inbox};
use crate::tui::terminal::{SystemRequest, TerminalControl};
use crate::tui::{
    BlockOffer, Choice, EarlierOffer, EarlierRun, FileAnswers, FileRead, Host, Job, MachinePage,
    Message, NewMachine, ProofChoice, ProofRecording, ProofResult, RunHandles, SourceOffer,
    Subject, Theme, UnitSummary,
};
use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::path::Path;
use std::sync::mpsc;

/// A host whose one run says what it was given to say and ends when told to stop.
#[derive(Default)]
struct Scripted {
    starts: usize,
    saves: usize,
}

fn scripted_run() -> RunHandles {
    let (tell, events) = mpsc::channel();
    let (commands, message) = mpsc::channel();
    std::thread::spawn(move || {
        tell.send(RunEvent::Stream(scene::taking())).unwrap();
        tell.send(scene::samples(0, 3000, measure::units::Step::Rest))
            .unwrap();
        while message.recv().unwrap() != RunCommand::Stop {}
        let last = RunEvent::Finished {
            assessment: Some(scene::assessment((0.9, 0.02), Some(0.8))),
            capture: None,
        };
        tell.send(last).unwrap();
    });
    RunHandles { events, commands }
}

impl Host for Scripted {
    fn sources(&mut self) -> Vec<SourceOffer> {
        super::screens::offers()
    }

    fn read_file(&mut self, _: &FileAnswers) -> Job<FileRead> {
        Box::new(|| Err("there is no file".to_owned()))
    }

    fn start(&mut self, choice: &Choice) -> Result<RunHandles, String> {
        self.starts += 1;
        assert_eq!(choice.tag.as_deref(), Some("T1"));
        Ok(scripted_run())
    }

    fn units(&mut self) -> Job<Vec<UnitSummary>> {
        Box::new(|| Ok(super::beside::units()))
    }

    fn page(&mut self, _: &Subject) -> Job<String> {
        Box::new(|| Ok("one\ntwo".to_owned()))
    }

    fn earlier(&mut self, _: &str) -> Job<Vec<EarlierOffer>> {
        Box::new(|| Ok(super::beside::earlier()))
    }

    fn fetch(&mut self, _: &EarlierOffer, _: Option<&Profile>) -> Job<EarlierRun> {
        Box::new(|| Ok(super::beside::fetched()))
    }

    fn blocks(&mut self) -> Job<Vec<BlockOffer>> {
        Box::new(|| Ok(super::blocks::offers()))
    }

    fn machine(&mut self) -> Job<MachinePage> {
        Box::new(|| Err("there is no machine".to_owned()))
    }

    fn open_machine(&mut self, _: &Path) {}

    fn start_machine(&mut self, _: &NewMachine) -> Result<(), String> {
        Ok(())
    }

    fn prove(&mut self, _: &ProofChoice) -> Result<RunHandles, String> {
        self.starts += 1;
        Ok(scripted_run())
    }

    fn judge(&mut self, _: &ProofRecording) -> Job<ProofResult> {
        Box::new(|| Err("nothing was judged".to_owned()))
    }

    fn save_proof(&mut self, _: &ProofRecording) -> Result<String, String> {
        self.saves += 1;
        Ok("kept".to_owned())
    }

    fn save(&mut self, _: &Assessment, _: Option<&Path>) -> Result<String, String> {
        self.saves += 1;
        Ok("kept".to_owned())
    }
}

#[derive(Default)]
struct Quiet {
    requests: Vec<SystemRequest>,
    stops: usize,
    retakes: usize,
}

impl TerminalControl for Quiet {
    fn request(&mut self) -> Option<SystemRequest> {
        self.requests.pop()
    }

    fn suspend(&mut self) -> std::io::Result<()> {
        self.stops += 1;
        Ok(())
    }

    fn retake(&mut self) -> std::io::Result<()> {
        self.retakes += 1;
        Ok(())
    }
}

fn keys(post: &mpsc::SyncSender<Message>, keys: &str) {
    for key in keys.chars() {
        let code = if key == '\n' {
            KeyCode::Enter
        } else {
            KeyCode::Char(key)
        };
        post.send(Message::Key(KeyEvent::new(code, KeyModifiers::NONE)))
            .unwrap();
    }
}

#[test]
fn from_the_list_to_a_verdict_that_is_saved() {
    let mut host = Scripted::default();
    let (post, inbox) = inbox();
    keys(&post, "3\nqe");
    let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
    let mut runner = EffectRunner::new(&mut host, post.clone());
    let mut state = runner.open(Opening::Choose(vec![scene::profile()]), Theme::default());
    // `s` and `q` mean saving and leaving only once the verdict is there.
    let later = std::thread::spawn(move || {
        std::thread::sleep(std::time::Duration::from_millis(400));
        keys(&post, "sq");
    });
    drive(
        &mut terminal,
        &mut Quiet::default(),
        &mut runner,
        &mut state,
        &inbox,
    )
    .unwrap();
    later.join().unwrap();
    assert_eq!(state.session.run.store.len(), 3000);
    assert!(state.session.run.assessment.is_some());
    assert_eq!(state.session.run.saved, Some(Ok("kept".to_owned())));
    assert_eq!((host.starts, host.saves), (1, 1));
}

#[test]
fn the_systems_wishes_are_followed() {
    let mut host = Scripted::default();
    let (post, inbox) = inbox();
    let mut terminal = Terminal::new(TestBackend::new(80, 24)).unwrap();
    let mut runner = EffectRunner::new(&mut host, post);
    let opening = Opening::Run {
        handles: scripted_run(),
        profile: Some(scene::profile()),
        source: "scripted".to_owned(),
        tag: None,
    };
    let mut state = runner.open(opening, Theme::default());
    let mut control = Quiet {
        requests: vec![
            SystemRequest::Terminate,
            SystemRequest::Redraw,
            SystemRequest::Suspend,
        ],
        ..Quiet::default()
    };
    drive(&mut terminal, &mut control, &mut runner, &mut state, &inbox).unwrap();
    assert_eq!((control.stops, control.retakes), (1, 1));
    assert!(
        state.session.run.assessment.is_some(),
        "the run had its last word"
    );
}
