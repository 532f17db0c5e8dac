//! The key table: what each key does in each situation, with the words that are shown for it.

use crossterm::event::{KeyCode, KeyEvent, KeyModifiers};

/// What the person is in front of: decides which keys mean something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Situation {
    Machine,
    /// Typing into a form of a machine that is started.
    Form,
    /// Choosing a kind of control for it.
    Kinds,
    Sources,
    Unit,
    Live,
    Ended,
    Help,
    EndRun,
    /// Typing the position of a station.
    Station,
    /// Choosing an earlier run to overlay.
    Earlier,
    Units,
    Page,
    Blocks,
    Blend,
    ProveAsk,
    Proving,
    Proved,
}

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Action {
    Help,
    Accept,
    /// Choose by number, or type a digit.
    Digit,
    Type,
    Erase,
    Back,
    Rescan,
    Up,
    Down,
    Skip,
    Repeat,
    Station,
    /// The last known position once more.
    TakeBack,
    /// Check it as the kind of control that it looks like.
    OtherProfile,
    Hold,
    Earlier,
    Later,
    PageEarlier,
    PageLater,
    First,
    Latest,
    Closer,
    Wider,
    Whole,
    Height,
    AllFigures,
    Picture,
    /// The details of a run, or what to do in big letters.
    Details,
    /// The bell, or silence.
    Bell,
    Compare,
    Align,
    Units,
    Wiring,
    /// The machine's boards: firmware and streamer.
    Boards,
    /// The values of the kind under the pointer.
    Values,
    Blocks,
    Feed,
    Prove,
    Round,
    Constants,
    Save,
    Another,
    /// A file of something else.
    File,
    End,
    StopRun,
    Leave,
    /// Stop the program as the shell's job control does.
    Suspend,
}

/// What is pressed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// This key, without control.
    Key(KeyCode),
    /// This letter with control.
    Control(char),
    /// Any of 0 to 9.
    Digit,
    /// Any character that can be printed.
    Text,
}

#[derive(Debug, Clone, Copy)]
pub struct Binding {
    pub press: &'static [Press],
    pub action: Action,
    pub within: &'static [Situation],
    /// The key as it is written on the screen.
    pub shown: &'static str,
    /// What it does, for the key line; empty: on the help page only.
    pub short: &'static str,
    /// What it does, for the help page; empty: nowhere.
    pub long: &'static str,
}

use Action as A;
use KeyCode as K;
use Press::{Control, Digit, Key, Text};
use Situation::{
    Blend, Blocks, Earlier, EndRun, Ended, Form, Help, Kinds, Live, Machine, Page, ProveAsk,
    Proved, Proving, Sources, Station, Unit, Units,
};

const BENCH: &[Situation] = &[Live, Ended];
const ANYWHERE: &[Situation] = &[
    Machine, Form, Kinds, Sources, Unit, Live, Ended, Help, EndRun, Station, Earlier, Units, Page,
    Blocks, Blend, ProveAsk, Proving, Proved,
];

macro_rules! bindings {
    ($( $press:expr, $action:ident, $within:expr, $shown:literal, $short:literal, $long:literal; )*) => {
        /// Every key. The first row that fits wins; order is the order on the screen.
        pub const BINDINGS: &[Binding] = &[ $( Binding {
            press: $press, action: A::$action, within: $within, shown: $shown, short: $short, long: $long,
        }, )* ];
    };
}

bindings! {
    &[Key(K::Esc), Key(K::Char('?')), Key(K::Char('q')), Key(K::Enter)], Help, &[Help], "esc", "close", "close this page";
    &[Key(K::Char('e'))], StopRun, &[EndRun], "e", "end, show what it says", "";
    &[Key(K::Char('q')), Control('c')], Leave, &[EndRun], "q", "end and leave", "";
    &[Key(K::Esc), Key(K::Enter)], Back, &[EndRun], "esc", "go on", "";
    &[Key(K::Enter)], Accept, &[Machine], "enter", "next", "begin what is next for the machine";
    &[Key(K::Enter)], Accept, &[Ended, Proved, Page], "enter", "next", "the machine's next step";
    &[Key(K::Enter)], Accept, &[Form], "enter", "take it", "take what stands there";
    &[Key(K::Enter)], Accept, &[Kinds], "enter", "choose", "choose the row under the pointer";
    &[Key(K::Char('e'))], Values, &[Kinds], "e", "other values", "its name, its sticker and other values";
    &[Digit], Digit, &[Kinds, Machine], "1-9", "", "choose a row by its number";
    &[Key(K::Char('r'))], Rescan, &[Machine], "r", "rescan", "look at everything of the machine again";
    &[Key(K::Char('n'))], Another, &[Machine], "n", "just a part", "measure a part that is not the machine's";
    &[Key(K::Enter)], Accept, &[Sources], "enter", "choose", "choose the source under the pointer";
    &[Key(K::Enter)], Accept, &[Unit], "enter", "begin", "begin with this part and profile";
    &[Key(K::Enter)], Accept, &[Station], "enter", "take it", "take what was typed";
    &[Key(K::Enter)], Accept, &[Earlier], "enter", "compare", "compare this run with it";
    &[Key(K::Enter)], Accept, &[Units], "enter", "its history", "the history of the part under the pointer";
    &[Key(K::Enter)], Accept, &[Blocks], "enter", "what it puts out", "what the constants file under the pointer puts out";
    &[Key(K::Enter)], Accept, &[ProveAsk], "enter", "begin", "begin, once yes has been typed";
    &[Key(K::Tab)], Round, &[ProveAsk], "tab", "output or faults", "what the board is to show";
    &[Key(K::F(5))], Rescan, &[ProveAsk], "f5", "rescan", "look for ports again";
    &[Key(K::F(3))], Boards, &[ProveAsk], "f3", "boards", "write firmware and streamer, and how to flash them";
    &[Key(K::Backspace)], Erase, &[ProveAsk], "", "", "";
    &[Key(K::Char('p'))], Prove, &[Blocks, Blend], "p", "test a board", "test a board flashed with it";
    &[Key(K::Left)], Earlier, &[Blend], "left", "less", "one code less";
    &[Key(K::Right)], Later, &[Blend], "right", "more", "one code more";
    &[Key(K::PageDown)], PageEarlier, &[Blend], "pgdn", "", "16 codes less";
    &[Key(K::PageUp)], PageLater, &[Blend], "pgup", "", "16 codes more";
    &[Key(K::Char('f'))], Feed, &[Blend], "f", "live or by hand", "what feeds the input: a channel, or keys";
    &[Key(K::Char('k'))], Skip, &[Proving], "k", "skip", "skip this, or: the power is back on";
    &[Key(K::Char('q')), Key(K::Esc), Control('c')], End, &[Proving], "q", "end", "end the run; asks first";
    &[Key(K::Char('s'))], Save, &[Proved], "s", "save", "keep recording and marks";
    &[Key(K::Char('f'))], Prove, &[Proved], "f", "other round", "faults after output, or output after faults";
    &[Key(K::Char('n'))], Another, &[Proved], "n", "another", "another part or source";
    &[Key(K::Char('f'))], File, &[Sources], "f", "a file", "a file of a scope, a logger, a spreadsheet";
    &[Digit], Digit, &[Sources], "1-9", "", "choose a source by its number";
    &[Key(K::Char('r'))], Rescan, &[Sources], "r", "rescan", "look for ports again";
    &[Key(K::Backspace)], Erase, &[Form, Unit, Station, Units], "bksp", "", "take the last character away";
    &[Key(K::Up)], Up, &[Machine, Form, Kinds, Sources, Unit, Earlier, Units, Page, Blocks, Blend, ProveAsk, Proved], "up", "", "one row up";
    &[Key(K::Down)], Down, &[ProveAsk], "down", "", "one row down";
    &[Key(K::Down), Key(K::Tab)], Down, &[Form], "tab", "next row", "one row down";
    &[Key(K::Down), Key(K::Tab)], Down, &[Earlier, Units, Blocks], "down", "next", "one row down";
    &[Key(K::Down), Key(K::Tab)], Down, &[Machine, Kinds, Sources, Unit, Page, Blend, Proved], "down", "", "one row down";
    &[Key(K::PageUp)], PageEarlier, &[Page, Proved], "pgup", "", "a page up";
    &[Key(K::PageDown), Key(K::Char(' '))], PageLater, &[Page], "pgdn", "next page", "a page down";
    &[Key(K::PageDown), Key(K::Char(' '))], PageLater, &[Proved], "pgdn", "", "a page down";
    &[Key(K::Home)], First, &[Page, Proved], "home", "", "to the first row";
    &[Key(K::End)], Latest, &[Page, Proved], "end", "", "to the last row";
    &[Key(K::F(1))], Help, &[Form, Unit, Station, Earlier, Units, Page, Blocks, ProveAsk], "f1", "", "list keys";
    &[Key(K::Esc)], Back, &[Form, Kinds, Unit, Station, Earlier, Units, Page, Blocks, Blend, ProveAsk], "esc", "back", "one place back";
    &[Key(K::Char('q'))], Back, &[Kinds, Earlier, Page, Blocks, Blend], "q", "", "";
    &[Key(K::F(2))], Wiring, &[Unit], "f2", "its wiring", "the profile's wiring and single faults";
    &[Key(K::F(3))], Units, &[Unit], "f3", "my parts", "my parts, with their last verdict";
    &[Text], Type, &[Form, Unit, Station, Units, ProveAsk], "", "", "";
    &[Key(K::Char('?')), Key(K::F(1)), Key(K::Char('h'))], Help, &[Machine, Kinds, Sources, Live, Ended, Blend, Proving, Proved], "?", "explain", "explain; list the keys";
    &[Key(K::Char('d'))], Details, &[Live], "d", "details", "details, or big letters";
    &[Key(K::Char('k'))], Skip, &[Live], "k", "skip step", "skip this step";
    &[Key(K::Char('r'))], Repeat, &[Live], "r", "repeat step", "repeat this step";
    &[Key(K::Char('p'))], Station, &[Live], "p", "", "enter a known position";
    &[Key(K::Enter)], Accept, &[Live], "enter", "", "yes, go on; take trial";
    &[Key(K::Char('x'))], OtherProfile, &[Live], "x", "", "check as the other kind";
    &[Key(K::Backspace)], TakeBack, &[Live], "bksp", "", "";
    &[Key(K::Char('s'))], Save, &[Ended], "s", "save", "save what was found";
    &[Key(K::Char('g'))], Constants, &[Ended], "g", "constants", "constants of its machine";
    &[Key(K::Char('n'))], Another, &[Ended], "n", "next part", "another part or source";
    &[Key(K::Char('q')), Control('c')], End, &[Live], "q", "end", "end the run; asks first";
    &[Key(K::Char('q')), Control('c')], Leave, &[Ended, Machine, Sources, Proved], "q", "leave", "leave the program";
    &[Key(K::Esc)], Leave, &[Sources], "", "", "";
    &[Key(K::Char('w'))], Boards, &[Machine, Sources], "w", "boards", "write firmware and streamer, and how to flash them";
    &[Control('c')], Leave, &[Form, Kinds, Unit, Help, Station, Earlier, Units, Page, Blocks, Blend, ProveAsk], "", "", "";
    &[Key(K::Char('u'))], Units, &[Machine, Sources], "u", "my parts", "my parts, with their last verdict";
    &[Key(K::Char('m'))], Bell, &[Live], "m", "", "the bell, or silence";
    &[Key(K::Char('t'))], Picture, BENCH, "t", "picture", "the next picture";
    &[Key(K::Char('c'))], Compare, BENCH, "c", "compare", "compare: an earlier run";
    &[Key(K::Char('b'))], Align, BENCH, "b", "", "align by step, or start";
    &[Key(K::Char(' '))], Hold, BENCH, "space", "hold trace", "hold the trace, or not";
    &[Key(K::Left)], Earlier, BENCH, "left", "", "cursor earlier";
    &[Key(K::Right)], Later, BENCH, "right", "", "cursor later";
    &[Key(K::PageUp)], PageEarlier, BENCH, "pgup", "", "half a screen earlier";
    &[Key(K::PageDown)], PageLater, BENCH, "pgdn", "", "half a screen later";
    &[Key(K::Home)], First, BENCH, "home", "", "to the first sample";
    &[Key(K::End)], Latest, BENCH, "end", "", "back to now";
    &[Key(K::Char('+')), Key(K::Char('='))], Closer, BENCH, "+", "", "less time on the screen";
    &[Key(K::Char('-'))], Wider, BENCH, "-", "", "more time on the screen";
    &[Key(K::Char('w'))], Whole, BENCH, "w", "whole run", "the whole run";
    &[Key(K::Char('v'))], Height, BENCH, "v", "", "limits, whole, close-up";
    &[Key(K::Up)], Up, BENCH, "up", "", "result above";
    &[Key(K::Down), Key(K::Tab)], Down, BENCH, "down", "", "result below";
    &[Key(K::Char('a'))], AllFigures, BENCH, "a", "all results", "all results, or fewer";
    &[Key(K::Char('u'))], Units, BENCH, "u", "my parts", "my parts";
    &[Key(K::Char('i'))], Wiring, BENCH, "i", "wiring", "the wiring's dangers";
    &[Key(K::Char('o'))], Blocks, &[Machine, Sources, Live, Ended], "o", "outputs", "board output and proof";
    &[Control('z')], Suspend, ANYWHERE, "ctrl-z", "", "shell; `fg` comes back";
}

/// What a key asks for in a situation.
pub fn action(situation: Situation, key: &KeyEvent) -> Option<Action> {
    BINDINGS
        .iter()
        .filter(|binding| binding.within.contains(&situation))
        .find(|binding| binding.press.iter().any(|press| fits(*press, key)))
        .map(|binding| binding.action)
}

fn fits(press: Press, key: &KeyEvent) -> bool {
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    match (press, key.code) {
        (Press::Control(letter), KeyCode::Char(pressed)) => {
            control && pressed.eq_ignore_ascii_case(&letter)
        }
        (Press::Key(code), pressed) => !control && code == pressed,
        (Press::Digit, KeyCode::Char(pressed)) => !control && pressed.is_ascii_digit(),
        (Press::Text, KeyCode::Char(pressed)) => !control && !pressed.is_control(),
        _ => false,
    }
}

/// The rows that mean something in a situation.
pub fn within(situation: Situation) -> impl Iterator<Item = &'static Binding> {
    BINDINGS
        .iter()
        .filter(move |binding| binding.within.contains(&situation))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn key(code: KeyCode) -> KeyEvent {
        KeyEvent::new(code, KeyModifiers::NONE)
    }

    #[test]
    fn keys_mean_what_the_situation_makes_of_them() {
        let q = key(K::Char('q'));
        assert_eq!(action(Live, &q), Some(A::End));
        assert_eq!(action(EndRun, &q), Some(A::Leave));
        assert_eq!(action(Unit, &q), Some(A::Type));
        assert_eq!(action(Sources, &key(K::Char('3'))), Some(A::Digit));
        assert_eq!(action(Live, &key(K::Char('3'))), None);
        let ctrl_z = KeyEvent::new(K::Char('z'), KeyModifiers::CONTROL);
        assert_eq!(action(Unit, &ctrl_z), Some(A::Suspend));
    }

    #[test]
    fn every_situation_has_a_way_out_on_its_key_line() {
        for &situation in ANYWHERE {
            let out = within(situation).any(|b| {
                !b.short.is_empty() && matches!(b.action, A::End | A::Leave | A::Back | A::Help)
            });
            assert!(out, "{situation:?}");
        }
    }

    #[test]
    fn no_key_stands_twice_in_one_situation() {
        for &situation in ANYWHERE {
            let mut seen = Vec::new();
            for press in within(situation).flat_map(|b| b.press) {
                assert!(!seen.contains(&press), "{press:?} twice in {situation:?}");
                seen.push(press);
            }
        }
    }
}
