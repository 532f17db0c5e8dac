//! A file of something else, chosen or typed: what is asked, what was understood, and the run that begins with it.

use super::scene::{self, letters, press, text};
use super::screens::{choosing, shot};
use crate::tui::{Effect, FileAnswers, FileRead, FileRow, Message, SourceKind, State, update};
use crossterm::event::KeyCode;

fn shown(state: &State) -> String {
    text(&scene::draw(state, 80, 24))
}

/// What a look gives, for the answers that stand on the screen.
fn answer(state: &mut State, asked: &[Effect], read: Result<FileRead, String>) -> FileAnswers {
    let [Effect::ReadFile(answers)] = asked else {
        panic!("{asked:?}");
    };
    update(state, Message::FileRead(answers.clone(), read));
    (**answers).clone()
}

fn read(answer: Result<&[&str], (FileRow, &str)>) -> FileRead {
    FileRead {
        holds: "It has 30000 rows and the columns 1 `Time (s)`, 2 `CH1 (V)`.".to_owned(),
        answer: match answer {
            Ok(message) => Ok(message.iter().map(|&words| words.to_owned()).collect()),
            Err((row, words)) => Err((Some(row), words.to_owned())),
        },
    }
}

#[test]
fn a_typed_file_is_asked_about_and_measured_as_a_part() {
    let mut state = choosing();
    assert!(shown(&state).contains("a file"), "{}", shown(&state));
    assert_eq!(letters(&mut state, "f"), []);
    assert!(shown(&state).contains("made with something else"));
    letters(&mut state, "~/scpe.csv");
    let asked = press(&mut state, KeyCode::Enter);
    let gone = "~/scpe.csv: there is no such file".to_owned();
    assert_eq!(answer(&mut state, &asked, Err(gone)).file, "~/scpe.csv");
    assert!(shown(&state).contains("there is no such file"));
    for _ in 0.."~/scpe.csv".len() {
        press(&mut state, KeyCode::Backspace);
    }
    letters(&mut state, "scope.csv");
    assert!(shown(&state).contains("it is read again"));
    let asked = press(&mut state, KeyCode::Enter);
    let bits = "How many bits has the ADC of the board?";
    answer(&mut state, &asked, Ok(read(Err((FileRow::Bits, bits)))));
    assert!(shown(&state).contains(bits) && shown(&state).contains("`CH1 (V)`"));
    shot("import-asked", &state);
    // The pointer stands where the question is.
    letters(&mut state, "10");
    press(&mut state, KeyCode::Tab);
    letters(&mut state, "5000");
    let asked = press(&mut state, KeyCode::Enter);
    let message = ["guessed: column `Time (s)` is the time"];
    let answers = answer(&mut state, &asked, Ok(read(Ok(&message))));
    assert_eq!((&*answers.bits, &*answers.vref_mv), ("10", "5000"));
    shot("import-understood", &state);
    // On to the part's name and kind, as from any source.
    assert_eq!(press(&mut state, KeyCode::Enter), []);
    letters(&mut state, "T3");
    let begun = press(&mut state, KeyCode::Enter);
    let [Effect::Start(choice)] = &begun[..] else {
        panic!("{begun:?}");
    };
    assert_eq!(choice.tag.as_deref(), Some("T3"));
    assert_eq!(choice.source.kind, SourceKind::Foreign);
    assert_eq!(choice.source.name, "scope.csv");
    assert_eq!(choice.source.answers.as_deref(), Some(&answers));
}

#[test]
fn an_answer_that_comes_late_is_not_taken_for_another_file() {
    let mut state = choosing();
    letters(&mut state, "f");
    letters(&mut state, "a.csv");
    let asked = press(&mut state, KeyCode::Enter);
    letters(&mut state, "x");
    answer(&mut state, &asked, Ok(read(Ok(&[]))));
    assert!(!shown(&state).contains("Understood"), "{}", shown(&state));
    let again = press(&mut state, KeyCode::Enter);
    assert_eq!(answer(&mut state, &again, Ok(read(Ok(&[])))).file, "a.csvx");
    assert!(shown(&state).contains("Understood"));
}
