//! Words for the person at the terminal.
//!
//! Writing goes on quietly when nobody reads any more (`coolant-ledger … | head`): the work is what
//! counts, and a broken pipe must not turn it into a crash.

use std::io::{self, Write};

/// One text and a line end, to standard output, sent at once.
pub(crate) fn say(text: &str) {
    write_line(io::stdout().lock(), text);
}

/// Everything a reader gives, to standard output. Nobody reading any more is no failure.
pub(crate) fn pass_on(reader: &mut impl io::Read) -> io::Result<()> {
    let mut stream = io::stdout().lock();
    match io::copy(reader, &mut stream).and_then(|_| stream.flush()) {
        Err(cause) if cause.kind() == io::ErrorKind::BrokenPipe => Ok(()),
        done => done,
    }
}

/// One text to standard error, under the program's name.
pub(crate) fn complain(text: &str) {
    write_line(io::stderr().lock(), &format!("coolant-ledger: {text}"));
}

fn write_line(mut stream: impl Write, text: &str) {
    // There is nowhere left to report that reporting failed.
    let _unheard = writeln!(stream, "{text}").and_then(|()| stream.flush());
}
