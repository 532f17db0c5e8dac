//! Our reading and that of the `csv` crate over the whole file say the same of every file.

use super::*;
use proptest::prelude::*;
use std::fmt::Write as _;
use std::io::BufReader;

fn meta(with_ref: bool) -> Metadata {
    let reference = if with_ref {
        r#", "ref": {"unit": "deg"}"#
    } else {
        ""
    };
    let text = format!(
        r#"{{"pedalproof": {{"format": "capture/1", "board": {{"bits": 10, "vref_mv": 5000, "rate_hz": 1000}},
            "channels": {{"a": {{"role": "signal"}}, "b": {{"role": "supply"}}}}{reference}}}}}"#
    );
    Metadata::from_json(&text).unwrap()
}

/// The whole file by the `csv` crate, which after a line end takes no byte-order mark for the file's own.
fn by_csv_alone(file: &[u8], mut meta: Metadata) -> Result<Capture, TableError> {
    // With nothing behind its mark of byte order a file is empty, too, which the crate takes for a cell.
    let file = file.strip_prefix(b"\xef\xbb\xbf").unwrap_or(file);
    let file = [b"\n", file].concat();
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(&file[..]);
    let mut records = reader.byte_records().map(|record| {
        let record = record.unwrap();
        let begun = usize::try_from(record.position().unwrap().byte()).unwrap();
        let blank = file[begun..].iter().take_while(|b| b"\r\n".contains(b));
        let before = &file[..begun + blank.count()];
        Row {
            cells: record.iter().map(<[u8]>::to_vec).collect(),
            line: memchr::memchr_iter(b'\n', before).count() as u64,
            is_ended: true,
        }
    });
    let Some(header) = records.next() else {
        let what = "the file is empty: a recording begins `t_us,step,<channel>`";
        return Err(TableError::line(1, what));
    };
    let layout = Layout::read(&header, &mut meta)?;
    let mut rows = Rows::new(&layout, &meta);
    let mut records = records.peekable();
    while let Some(row) = records.next() {
        if records.peek().is_none() && !file.ends_with(b"\n") && !file.ends_with(b"\r") {
            let lost = format!("line {} was cut before its end and is left out", row.line);
            return Ok(rows.finish(meta, Some(lost)));
        }
        rows.push(&row)?;
    }
    Ok(rows.finish(meta, None))
}

/// Everything of a capture that is read, in a form that two can be held against each other (NaN too).
fn message(read: Result<Capture, TableError>) -> String {
    match read {
        Ok(c) => format!(
            "{:?} {:?} {:?} {:?} {:?} {:?}",
            c.t_us, c.passages, c.codes, c.reference, c.lost, c.meta.channels
        ),
        Err(e) => e.to_string(),
    }
}

fn same(file: &[u8], with_ref: bool, block: usize) -> String {
    let blocks = BufReader::with_capacity(block, file);
    let fast = message(read(blocks, file.len() as u64, meta(with_ref)));
    let slow = message(by_csv_alone(file, meta(with_ref)));
    assert_eq!(fast, slow, "{:?}", String::from_utf8_lossy(file));
    fast
}

#[test]
fn lines_are_counted_with_either_end_and_over_blank_ones() {
    for end in ["\n", "\r\n"] {
        for (rows, line) in [
            ("0,rest,1,2|1000,rest,x,2|", 3),
            ("0,rest,y,2|1000,rest,x,2|", 2),
            ("0,rest,1,2|||1000,rest,x,2|", 5),
            ("0,rest,1,2|1000,\"rest\",1,2|2000,rest,x,2|", 4),
            ("0,rest,1,2|1000,\"re|st\",1,2|", 3),
        ] {
            let file = format!("t_us,step,a,b|{rows}").replace('|', end);
            let words = same(file.as_bytes(), false, 4096);
            assert!(
                words.starts_with(&format!("line {line}, ")),
                "{file:?}: {words}"
            );
        }
    }
}

#[test]
fn a_mark_of_byte_order_is_the_files_own_and_no_row_s() {
    let marked = "\u{feff}t_us,step,a,b\n0,rest,1,2\n";
    assert!(same(marked.as_bytes(), false, 64).starts_with("[0]"));
    // Byte by byte, as a pipe may give it, and nothing behind it.
    for file in [marked, "\u{feff}", "\u{feff}\n"] {
        assert_eq!(
            same(file.as_bytes(), false, 1),
            same(file.as_bytes(), false, 4096)
        );
    }
    let within = "t_us,step,a,b\n0,rest,1,2\n\u{feff}1,rest,1,2\n";
    assert!(same(within.as_bytes(), false, 64).starts_with("line 3, column `t_us`"));
}

#[test]
fn a_long_file_in_blocks_of_its_own_size_and_smaller() {
    let mut file = "t_us,step,a,b\r\n".to_owned();
    for i in 0..5000 {
        let step = ["rest", "strokes"][i / 100 % 2];
        write!(file, "{},{step},{},{}\r\n", i * 997, i % 1024, i % 7).unwrap();
    }
    for block in [7, 64, 1000, 1 << 20] {
        assert!(same(file.as_bytes(), false, block).starts_with("[0, 997, 1994"));
    }
}

/// Rows, good and bad, and pieces that make rows.
fn piece() -> impl Strategy<Value = Vec<u8>> {
    let good = (0_u64..3000, 0..5_usize, 0_u32..1030).prop_map(|(t, step, code)| {
        let step = ["rest", "full", "strokes", "reference", "restless"][step];
        format!("{t},{step},{code},7\r\n").into_bytes()
    });
    let odd = prop::sample::select(vec![
        "5000,rest,1,2\n",
        "5000,rest,1,2",
        "\r\n",
        "\n",
        "\r",
        "\"",
        "5000,\"rest\",1,2\r\n",
        "6000,\"rest\",\"3\",2\n",
        "6000,rest,1,2,3\n",
        "6000,rest,1\n",
        "6000,,1,2\n",
        ",rest,1,2\n",
        "6000,rest,1 ,2\n",
        "6000,re\"st,1,2\n",
        "99999999999999999999,rest,1,2\n",
        "6000,rest,-1,2\n",
        "7000,rest,1,2\r",
        "7000,rest,1,2,3.5\r\n",
        "7000,rest,1,2,\r\n",
        "7000,rest,1,2,nan\r\n",
        "\u{feff}",
        "7000,REST,1,2\n",
        "000000000000000000007,rest,1,2\n",
    ])
    .prop_map(|text: &str| text.as_bytes().to_vec());
    prop_oneof![6 => good, 2 => odd, 1 => prop::collection::vec(any::<u8>(), 1..4)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn any_file(
        header in prop::sample::select(vec![
            "t_us,step,a,b\r\n", "t_us,step,a,b\n", "t_us,step,a,b,ref\r\n", "b,t_us,a,step\n", "\r\n\r\nt_us,step,a,b\r\n",
            "\"t_us\",step,a,\"b\"\r\n", "t_us,step,a,b\r", "t_us,step,a\n", "t_us,step,a,b", "\u{feff}t_us,step,a,b\n", "",
        ]),
        pieces in prop::collection::vec(piece(), 0..12),
        block in 1_usize..80,
        sorted in any::<bool>(),
    ) {
        let mut pieces = pieces;
        if sorted {
            pieces.sort();
        }
        let file = [header.as_bytes(), &pieces.concat()].concat();
        same(&file, header.contains("ref"), block);
    }
}
