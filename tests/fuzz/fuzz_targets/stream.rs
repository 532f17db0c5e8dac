//! The stream decoder: however the bytes are cut, the same events, and every line is one of them.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pedalproof::link::{Decoder, Event, StreamOptions};

fn decode(pieces: &[&[u8]]) -> (Vec<String>, String) {
    let mut decoder = Decoder::new(StreamOptions::default());
    let mut events = Vec::new();
    let mut keep = |event: Event<'_>| events.push(format!("{event:?}"));
    for piece in pieces {
        decoder.feed(piece, 0, &mut keep);
    }
    decoder.end(&mut keep);
    (events, format!("{:?}", decoder.counts()))
}

fuzz_target!(|data: &[u8]| {
    let Some((cut, data)) = data.split_first() else {
        return;
    };
    let at = usize::from(*cut).min(data.len());
    let (head, tail) = data.split_at(at);
    assert_eq!(decode(&[data]), decode(&[head, tail]));
});
