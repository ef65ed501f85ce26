//! What of a JPEG's header tells how much memory decoding it takes (ITU-T T.81, annex B).

/// Bytes that decoding takes a pixel: three colours out, and where it is sent in several passes all
/// coefficients, two bytes each, until the last has come.
pub(crate) fn bytes_a_pixel(sent: &[u8]) -> u64 {
    const COLOURS: u64 = 3;
    match frame(sent) {
        Some(frame) if frame.one_pass => COLOURS,
        Some(frame) => COLOURS + 2 * frame.samples_a_pixel,
        // Whatever this is, it is not given more than the dearest kind.
        None => COLOURS + 2 * 4,
    }
}

struct Frame {
    one_pass: bool,
    /// Samples of all components a pixel, rounded up.
    samples_a_pixel: u64,
}

/// The header of the frame: the segment that begins with one of the marks FFC0 to FFCF, of which
/// three are for tables.
fn frame(sent: &[u8]) -> Option<Frame> {
    let mut rest = sent.get(2..)?;
    loop {
        // Any number of fill bytes FF may stand before a mark.
        let at = rest.iter().position(|byte| *byte != 0xff)?;
        let (mark, after) = rest.get(at..)?.split_first()?;
        if at == 0 {
            return None;
        }
        if *mark == 0x01 || (0xd0..=0xd8).contains(mark) {
            rest = after;
            continue;
        }
        let length = usize::from(u16::from_be_bytes(after.first_chunk().copied()?));
        let segment = after.get(2..length)?;
        match *mark {
            0xc4 | 0xc8 | 0xcc => {}
            0xc0..=0xcf => return read_frame(*mark, segment),
            0xd9 | 0xda => return None,
            _ => {}
        }
        rest = after.get(length..)?;
    }
}

fn read_frame(mark: u8, segment: &[u8]) -> Option<Frame> {
    let components = segment.get(6..)?;
    let samplings: Vec<u64> = components
        .chunks_exact(3)
        .filter_map(|component| component.get(1))
        .map(|sampling| u64::from(sampling >> 4) * u64::from(sampling & 0x0f))
        .collect();
    let most = samplings.iter().copied().max().filter(|most| *most > 0)?;
    Some(Frame {
        // Baseline and extended sequential.
        one_pass: matches!(mark, 0xc0 | 0xc1),
        samples_a_pixel: samplings.iter().sum::<u64>().div_ceil(most),
    })
}
