//! The memory of a process, as Linux tells it.

/// The bytes that stand behind this name in proc(5): `VmRSS` is there now, `VmHWM` was the most.
/// The process is a number, or `self`.
pub(crate) fn memory(process: &str, name: &str) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with(name))?;
    let kilobytes: u64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes * 1024)
}
