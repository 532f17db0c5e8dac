//! A recording made with something else: which file, and what it does not say by itself.

use crate::tui::draw::{Pen, inset, split};
use crate::tui::form::{Form, Row};
use crate::tui::host::{Choice, FileAnswers, FileRead, FileRow, Part, SourceOffer};
use crate::tui::keys::Action;
use crate::tui::message::{Effect, Message, Request};
use crate::tui::theme::Tone;
use ratatui::layout::Rect;

const ROWS: [(FileRow, &str, &str); 7] = [
    (FileRow::File, "file", "its name, e.g. scope.csv"),
    (FileRow::Bits, "board's ADC, bits", "10, 12, ..."),
    (FileRow::Vref, "its reference, mV", "5000, 3300, ..."),
    (
        FileRow::Time,
        "column of the time",
        "as seen; if none, e.g. 250 Hz",
    ),
    (
        FileRow::TimeUnit,
        "the time is in",
        "as seen; else s, ms or us",
    ),
    (
        FileRow::Signals,
        "columns of the part",
        "all others; else e.g. 2, 3",
    ),
    (FileRow::Unit, "they are in", "as seen; else V, mV or code"),
];

fn label(row: FileRow) -> &'static str {
    ROWS.iter()
        .find(|(of, ..)| *of == row)
        .map_or("", |(_, label, _)| label)
}

#[derive(Debug, Clone)]
pub struct Import {
    offer: SourceOffer,
    /// The machine's control that the recording is of; absent for a part that is named next.
    part: Option<Box<Part>>,
    form: Form,
    /// Whether somebody reads the file just now.
    reading: bool,
    /// What the last look at it gave, and for which answers.
    read: Option<(FileAnswers, Result<FileRead, String>)>,
}

impl Import {
    pub fn new(offer: SourceOffer, part: Option<Box<Part>>) -> Self {
        let rows = ROWS.map(|(row, label, hint)| {
            let text = if row == FileRow::File {
                &*offer.name
            } else {
                ""
            };
            Row::new(label, text, hint)
        });
        Self {
            form: Form::new(rows.into(), 0),
            offer,
            part,
            reading: false,
            read: None,
        }
    }

    /// The first look at a file that was chosen.
    pub fn first_look(&mut self) -> Option<Effect> {
        (!self.offer.name.is_empty()).then(|| self.look())
    }

    fn look(&mut self) -> Effect {
        self.reading = true;
        Effect::ReadFile(Box::new(self.answers()))
    }

    fn answers(&self) -> FileAnswers {
        let text = |row| self.form.text(label(row)).unwrap_or_default().to_owned();
        FileAnswers {
            file: text(FileRow::File),
            bits: text(FileRow::Bits),
            vref_mv: text(FileRow::Vref),
            time: text(FileRow::Time),
            time_unit: text(FileRow::TimeUnit),
            signals: text(FileRow::Signals),
            unit: text(FileRow::Unit),
        }
    }

    pub fn update(&mut self, message: &Message) -> Vec<Request> {
        match message {
            Message::Action(Action::Accept, _) if self.reading => {}
            Message::Action(Action::Accept, _) => return vec![self.accept()],
            Message::Action(action, key) => self.form.update(*action, *key),
            Message::FileRead(answers, read) if self.reading && **answers == self.answers() => {
                self.reading = false;
                let row = match read {
                    Ok(FileRead {
                        answer: Err((row, _)),
                        ..
                    }) => *row,
                    Ok(_) => None,
                    Err(_) => Some(FileRow::File),
                };
                if let Some(row) = row {
                    self.form.point(label(row));
                }
                self.read = Some(((**answers).clone(), read.clone()));
            }
            // Of other answers than stand there now.
            Message::FileRead(..) => self.reading = false,
            _ => {}
        }
        Vec::new()
    }

    /// Looks at the file, or goes on with what was understood.
    fn accept(&mut self) -> Request {
        let answers = self.answers();
        let understood =
            matches!(&self.read, Some((of, Ok(read))) if *of == answers && read.answer.is_ok());
        if !understood {
            return Request::Effect(self.look());
        }
        let source = SourceOffer {
            name: answers.file.clone(),
            answers: Some(Box::new(answers)),
            ..self.offer.clone()
        };
        match &self.part {
            None => Request::Unit(Box::new(source)),
            Some(part) => Request::Begin(Box::new(Choice {
                source,
                tag: Some(part.tag.clone()),
                profile: Some(part.profile.clone()),
                control: Some(part.control.clone()),
            })),
        }
    }

    pub fn view(&self, pen: &mut Pen<'_>, area: Rect) {
        pen.heading(area, "A recording made with something else");
        let mut rest = inset(split(area, 2).1);
        let taken = self.form.view(pen, rest);
        rest = split(rest, taken + 1).1;
        let mut say = |pen: &mut Pen<'_>, words: &str, tone: Tone| {
            let rows = pen.wrapped(rest, words, tone);
            rest = split(rest, rows).1;
        };
        if self.reading {
            say(pen, "Reading the file ...", Tone::Quiet);
            return;
        }
        match &self.read {
            None => say(
                pen,
                "A scope's, a logger's or a spreadsheet's CSV, or a log of numbers. It is only read.",
                Tone::Quiet,
            ),
            Some((of, _)) if *of != self.answers() => {
                say(pen, "Press enter: it is read again.", Tone::Quiet);
            }
            Some((_, Err(why))) => say(pen, why, Tone::Bad),
            Some((_, Ok(read))) => match &read.answer {
                Err((_, question)) => {
                    say(pen, question, Tone::Now);
                    say(pen, &read.holds, Tone::Quiet);
                }
                Ok(told) => {
                    say(pen, "Understood. Press enter to go on.", Tone::Good);
                    say(pen, &read.holds, Tone::Plain);
                    say(pen, &told.join("; "), Tone::Plain);
                }
            },
        }
    }
}
