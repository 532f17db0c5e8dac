use super::{Outcome, args, demo};
pub(super) fn open(_: &args::Look) -> anyhow::Result<Outcome> {
    anyhow::bail!("soon")
}
pub(super) fn watch(
    _: crate::bench::Run,
    _: &demo::Unit,
    _: &args::Look,
) -> anyhow::Result<Outcome> {
    anyhow::bail!("soon")
}
