//! Numbers in the forms in which hosts write them.

use serde_json::Value;

/// Says how a number is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Form {
    /// As a number of so many decimals.
    Number(usize),
    /// As text of a number of so many decimals.
    Text(usize),
    /// As `h:mm:ss`, which is read as seconds.
    Clock,
    /// As a duration of ISO 8601, such as `PT1H2M3S`, which is read as seconds.
    Duration,
}

/// Reads a number.
pub(super) fn read(value: &Value) -> Option<(f64, Form)> {
    match value {
        Value::Number(number) => {
            let value = number.as_f64().filter(|value| value.is_finite())?;
            Some((value, Form::Number(decimals(&number.to_string()))))
        }
        Value::String(text) => {
            if let Some(seconds) = clock(text) {
                return Some((seconds, Form::Clock));
            }
            if let Some(seconds) = duration(text) {
                return Some((seconds, Form::Duration));
            }
            let is_number = text
                .chars()
                .all(|c| c.is_ascii_digit() || "+-.".contains(c));
            let value = text
                .parse::<f64>()
                .ok()
                .filter(|value| value.is_finite() && is_number)?;
            Some((value, Form::Text(decimals(text))))
        }
        _ => None,
    }
}

fn decimals(text: &str) -> usize {
    text.split_once('.')
        .map_or(0, |(_, decimals)| decimals.len())
}

/// Reads hours, minutes and seconds of a duration (RFC 3339 appendix A).
fn duration(text: &str) -> Option<f64> {
    let rest = text.strip_prefix("PT").filter(|rest| !rest.is_empty())?;
    let mut seconds = 0.0;
    let mut number = String::new();
    for letter in rest.chars() {
        let of_letter = match letter {
            'H' => 3600.0,
            'M' => 60.0,
            'S' => 1.0,
            _ if letter.is_ascii_digit() || letter == '.' => {
                number.push(letter);
                continue;
            }
            _ => return None,
        };
        seconds += of_letter * std::mem::take(&mut number).parse::<f64>().ok()?;
    }
    number.is_empty().then_some(seconds)
}

fn clock(text: &str) -> Option<f64> {
    let parts: Vec<&str> = text.split(':').collect();
    let [hours, minutes, seconds] = parts[..] else {
        return None;
    };
    let part = |text: &str, most: u32| -> Option<u32> {
        let is_digits = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
        let value: u32 = text.parse().ok().filter(|_| is_digits)?;
        (value <= most).then_some(value)
    };
    let hours = part(hours, 100_000)?;
    let (minutes, seconds) = (part(minutes, 59)?, part(seconds, 59)?);
    Some(f64::from(hours) * 3600.0 + f64::from(minutes) * 60.0 + f64::from(seconds))
}

/// Is a leaf that is a number wherever it is known.
#[derive(Debug, Clone)]
pub(super) struct Series {
    pub(super) pointer: String,
    /// By answer; `None` where it is null, empty or missing.
    pub(super) values: Vec<Option<f64>>,
    pub(super) form: Form,
    /// The text that stands there instead of a number now and then, such as `--`.
    pub(super) unknown: Option<String>,
}

impl Series {
    /// Takes a leaf as numbers; `None` if anything else stands there in some answer.
    pub(super) fn of(pointer: &str, values: &[Option<Value>]) -> Option<Self> {
        let mut numbers = Vec::with_capacity(values.len());
        let mut form: Option<Form> = None;
        let mut unknown: Option<String> = None;
        for value in values {
            let number = match value {
                None | Some(Value::Null) => None,
                Some(Value::String(text)) if text.is_empty() => None,
                Some(Value::String(text)) if read(&Value::String(text.clone())).is_none() => {
                    // One such word says that nothing is known; two are words.
                    if unknown.get_or_insert_with(|| text.clone()) != text {
                        return None;
                    }
                    None
                }
                Some(value) => {
                    let (number, own) = read(value)?;
                    form = Some(match (form, own) {
                        (None, own) => own,
                        (Some(Form::Number(one)), Form::Number(other)) => {
                            Form::Number(one.max(other))
                        }
                        (Some(Form::Text(one)), Form::Text(other)) => Form::Text(one.max(other)),
                        (Some(before), own) if before == own => own,
                        _ => return None,
                    });
                    Some(number)
                }
            };
            numbers.push(number);
        }
        Some(Self {
            pointer: pointer.to_owned(),
            values: numbers,
            form: form?,
            unknown,
        })
    }

    pub(super) fn known(&self) -> impl Iterator<Item = f64> + '_ {
        self.values.iter().flatten().copied()
    }

    pub(super) fn least(&self) -> f64 {
        self.known().fold(f64::INFINITY, f64::min)
    }

    pub(super) fn most(&self) -> f64 {
        self.known().fold(f64::NEG_INFINITY, f64::max)
    }

    /// Gives how many different values there are.
    pub(super) fn distinct(&self) -> usize {
        let mut all: Vec<f64> = self.known().collect();
        all.sort_by(f64::total_cmp);
        all.dedup_by(|one, other| (*one - *other).abs() < 1e-9);
        all.len()
    }

    /// Gives how often the value changes from one answer to the next.
    pub(super) fn changes(&self) -> usize {
        let is_change = |pair: &&[Option<f64>]| match (pair[0], pair[1]) {
            (Some(one), Some(other)) => (one - other).abs() > 1e-9,
            (None, None) => false,
            _ => true,
        };
        self.values.windows(2).filter(is_change).count()
    }
}
