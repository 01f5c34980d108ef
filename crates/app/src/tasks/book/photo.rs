//! The bytes of a photo: which kind, and without where it was taken.

/// Which picture the bytes are, by their first bytes (PNG: ISO/IEC 15948; JPEG: ISO/IEC 10918; WebP: RFC 9649).
pub fn kind_of(bytes: &[u8]) -> Option<&'static str> {
    if bytes.starts_with(b"\x89PNG\r\n\x1a\n") {
        Some("image/png")
    } else if bytes.starts_with(&[0xff, 0xd8, 0xff]) {
        Some("image/jpeg")
    } else if bytes.starts_with(b"RIFF") && bytes.get(8..12) == Some(b"WEBP") {
        Some("image/webp")
    } else {
        None
    }
}

/// A JPEG without the place where it was taken and what else the camera wrote, but with the way up it is to be shown:
/// its segments APP1 go, and a new one with the orientation alone comes (Exif, tag 0x0112).
pub fn without_place(bytes: &[u8]) -> Vec<u8> {
    let mut out = vec![0xff, 0xd8];
    let mut at = 2;
    let mut orientation = None;
    let mut rest = Vec::new();
    while let (Some(0xff), Some(&mark)) = (bytes.get(at), bytes.get(at + 1)) {
        // From the start of the scan on, the picture itself.
        if mark == 0xda {
            break;
        }
        let (Some(&high), Some(&low)) = (bytes.get(at + 2), bytes.get(at + 3)) else {
            break;
        };
        let end = at + 2 + usize::from(u16::from_be_bytes([high, low]));
        let Some(segment) = bytes.get(at..end).filter(|s| s.len() >= 4) else {
            break;
        };
        match mark {
            0xe1 => orientation = orientation.or_else(|| way_up(segment.get(4..).unwrap_or(&[]))),
            // Remarks of the camera.
            0xfe | 0xed => {}
            _ => rest.extend_from_slice(segment),
        }
        at = end;
    }
    if let Some(way) = orientation.filter(|w| (2..=8).contains(w)) {
        // One entry, big-endian: tag, kind SHORT, one value, value; no further directory.
        out.extend_from_slice(&[0xff, 0xe1, 0x00, 0x22]);
        out.extend_from_slice(b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0");
        out.push(way);
        out.extend_from_slice(&[0, 0, 0, 0, 0, 0]);
    }
    out.extend_from_slice(&rest);
    out.extend_from_slice(bytes.get(at..).unwrap_or(&[]));
    out
}

/// The orientation in an Exif segment.
fn way_up(segment: &[u8]) -> Option<u8> {
    let tiff = segment.strip_prefix(b"Exif\0\0")?;
    let big = tiff.starts_with(b"MM");
    let two = |at: usize| -> Option<u16> {
        let pair = [*tiff.get(at)?, *tiff.get(at.checked_add(1)?)?];
        Some(if big {
            u16::from_be_bytes(pair)
        } else {
            u16::from_le_bytes(pair)
        })
    };
    let four = |at: usize| -> Option<usize> {
        let (a, b) = (usize::from(two(at)?), usize::from(two(at.checked_add(2)?)?));
        Some(if big { a << 16 | b } else { b << 16 | a })
    };
    let first = four(4)?;
    let count = usize::from(two(first)?);
    (0..count)
        .find_map(|i| {
            let entry = first.checked_add(2 + 12 * i)?;
            (two(entry)? == 0x0112).then(|| two(entry.checked_add(8)?))?
        })
        .and_then(|v| u8::try_from(v).ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A JPEG as the standard lays it out: SOI, APP0, APP1 with orientation 6 and a place, a remark, SOS, data.
    fn photo() -> Vec<u8> {
        let mut exif = b"Exif\0\0II\x2a\0\x08\0\0\0\x02\0".to_vec();
        exif.extend_from_slice(&[0x12, 0x01, 3, 0, 1, 0, 0, 0, 6, 0, 0, 0]);
        exif.extend_from_slice(&[0x25, 0x88, 4, 0, 1, 0, 0, 0, 99, 0, 0, 0, 0, 0, 0, 0]);
        exif.extend_from_slice(b"AT HOME");
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe0, 0, 4, 1, 2, 0xff, 0xe1];
        bytes.extend_from_slice(&u16::try_from(exif.len() + 2).unwrap().to_be_bytes());
        bytes.extend_from_slice(&exif);
        bytes.extend_from_slice(&[
            0xff, 0xfe, 0, 6, b'o', b'u', b'r', b's', 0xff, 0xda, 0, 2, 7, 8, 9, 0xff, 0xd9,
        ]);
        bytes
    }

    #[test]
    fn where_a_photo_was_taken_goes_and_the_way_up_stays() {
        let bytes = without_place(&photo());
        assert!(!bytes.windows(7).any(|w| w == b"AT HOME"));
        assert!(!bytes.windows(4).any(|w| w == b"ours"));
        assert!(bytes.ends_with(&[0xff, 0xda, 0, 2, 7, 8, 9, 0xff, 0xd9]));
        assert_eq!(bytes.get(2..6), Some(&[0xff, 0xe1, 0, 0x22][..]));
        // The new segment is as long as it says, and read back says the same.
        assert_eq!(bytes.get(2 + 2 + 0x22), Some(&0xff));
        assert_eq!(way_up(&bytes[6..2 + 2 + 0x22]), Some(6));
        assert_eq!(without_place(&bytes), bytes);
    }

    #[test]
    fn broken_bytes_are_no_trouble() {
        let whole = photo();
        for end in 3..whole.len() {
            without_place(&whole[..end]);
        }
        way_up(b"Exif\0\0MM\0\x2a\xff\xff\xff\xff");
    }
}
