//! What a group of processes uses, from `/proc`.
//!
//! # Source
//! proc(5): `/proc/PID/stat`, `/proc/PID/status`, `/proc/PID/fd`.

use std::fs;
use std::time::Duration;

/// Is what all processes of a watcher use together at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Resources {
    /// Memory that is in RAM, bytes: the sum of `VmRSS` of `/proc/PID/status`. Pages that several
    /// processes share are counted in each.
    pub resident_bytes: u64,
    /// Open files: the entries of `/proc/PID/fd`, sockets and pipes among them.
    pub open_files: u64,
    /// Time on a processor since each process began, with that of children it has waited for: the sum of
    /// `utime`, `stime`, `cutime` and `cstime` of `/proc/PID/stat`, in steps of a clock tick.
    pub cpu: Duration,
    /// Processes that have not ended.
    pub processes: u32,
}

/// Measures the processes of a group; `None` if there is none.
pub(super) fn of_group(group: i32) -> Option<Resources> {
    let mut sum = Resources::default();
    let mut ticks = 0;
    for entry in fs::read_dir("/proc").ok()?.flatten() {
        let name = entry.file_name();
        let Some(pid) = name.to_str().and_then(|name| name.parse::<u32>().ok()) else {
            continue;
        };
        // A process may end at any moment: then it is not there, and uses nothing.
        let Ok(stat) = fs::read_to_string(format!("/proc/{pid}/stat")) else {
            continue;
        };
        let Some(stat) = Stat::read(&stat).filter(|stat| stat.group == group && !stat.has_ended)
        else {
            continue;
        };
        ticks += stat.ticks;
        sum.processes += 1;
        sum.resident_bytes += resident_bytes(pid).unwrap_or(0);
        sum.open_files +=
            fs::read_dir(format!("/proc/{pid}/fd")).map_or(0, |files| files.count() as u64);
    }
    let per_second = rustix::param::clock_ticks_per_second().max(1);
    sum.cpu = Duration::from_secs(ticks / per_second)
        + Duration::from_secs(ticks % per_second) / u32::try_from(per_second).unwrap_or(u32::MAX);
    (sum.processes > 0).then_some(sum)
}

/// Are the fields of `/proc/PID/stat` that are of use here.
#[derive(Debug, PartialEq, Eq)]
struct Stat {
    has_ended: bool,
    group: i32,
    ticks: u64,
}

impl Stat {
    fn read(line: &str) -> Option<Self> {
        // Field 2 is the program's name in parentheses, which may have spaces and parentheses in it.
        let (_, after_name) = line.rsplit_once(')')?;
        let fields: Vec<&str> = after_name.split_ascii_whitespace().collect();
        // Fields are counted from 1 in proc(5), and the first of these is the third.
        let field = |number: usize| fields.get(number - 3).copied();
        let ticks = (14..=17).map(|number| {
            // Time of children is signed, and never negative in fact.
            field(number).and_then(|ticks| ticks.parse::<u64>().ok())
        });
        Some(Self {
            has_ended: matches!(field(3)?, "Z" | "X"),
            group: field(5)?.parse().ok()?,
            ticks: ticks.sum::<Option<u64>>()?,
        })
    }
}

fn resident_bytes(pid: u32) -> Option<u64> {
    let status = fs::read_to_string(format!("/proc/{pid}/status")).ok()?;
    let line = status
        .lines()
        .find_map(|line| line.strip_prefix("VmRSS:"))?;
    let kibibytes: u64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kibibytes * 1024)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_with_spaces_and_parentheses_does_not_shift_the_fields() {
        let line = "7 (a) b (c) S 1 70 7 0 -1 4194560 100 0 0 0 5 6 7 8 20 0 1 0 100 1000 10";
        let stat = Stat {
            has_ended: false,
            group: 70,
            ticks: 26,
        };
        assert_eq!(Stat::read(line), Some(stat));
        assert_eq!(Stat::read("7 (a) S"), None);
    }

    #[test]
    fn a_group_that_is_not_there_has_no_resources() {
        assert_eq!(of_group(i32::MAX), None);
    }
}
