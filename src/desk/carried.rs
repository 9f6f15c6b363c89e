//! Work that is carried to its end even if whoever waits for it stops waiting.
//!
//! As long as somebody waits it is done in their task, which costs nothing; when they let go of
//! it half-way it goes on in a task of its own. A panic that it meets reaches nobody else.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::pin::Pin;
use std::task::{Context, Poll};

use tokio::runtime::Handle;

type Work<T> = Pin<Box<dyn Future<Output = T> + Send>>;

/// Such work. It gives what the work gives, or what its panic said.
pub(super) struct Carried<T: Send + 'static> {
    work: Option<Work<T>>,
    begun: bool,
}

impl<T: Send + 'static> Carried<T> {
    pub(super) fn new(work: impl Future<Output = T> + Send + 'static) -> Carried<T> {
        Carried {
            work: Some(Box::pin(work)),
            begun: false,
        }
    }
}

impl<T: Send + 'static> Future for Carried<T> {
    type Output = Result<T, String>;

    fn poll(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Self::Output> {
        self.begun = true;
        let Some(work) = &mut self.work else {
            return Poll::Ready(Err("it was asked for once more".to_owned()));
        };
        // Work that panicked is never looked at again.
        match catch_unwind(AssertUnwindSafe(|| work.as_mut().poll(context))) {
            Ok(Poll::Pending) => Poll::Pending,
            Ok(Poll::Ready(given)) => {
                self.work = None;
                Poll::Ready(Ok(given))
            }
            Err(panic) => {
                self.work = None;
                Poll::Ready(Err(said(panic.as_ref())))
            }
        }
    }
}

impl<T: Send + 'static> Drop for Carried<T> {
    fn drop(&mut self) {
        let half_done = self.work.take().filter(|_| self.begun);
        // Without a runtime the whole program is about to end.
        if let (Some(work), Ok(runtime)) = (half_done, Handle::try_current()) {
            runtime.spawn(work);
        }
    }
}

fn said(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(|text| (*text).to_owned());
    let text = text.or_else(|| panic.downcast_ref::<String>().cloned());
    text.unwrap_or_else(|| "it broke off unexpectedly".to_owned())
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicBool, Ordering};

    use tokio::sync::oneshot;

    use super::*;

    #[tokio::test]
    async fn work_goes_on_when_nobody_waits_for_it_any_more() {
        let (go_on, told) = oneshot::channel::<()>();
        let (done, was_done) = oneshot::channel();
        let mut work = Carried::new(async move {
            told.await.unwrap();
            done.send(7).unwrap();
        });
        let mut once = std::future::poll_fn(|context| {
            assert!(Pin::new(&mut work).poll(context).is_pending());
            Poll::Ready(())
        });
        (&mut once).await;
        drop(work);
        go_on.send(()).unwrap();
        assert_eq!(was_done.await, Ok(7));
    }

    #[tokio::test]
    async fn work_that_nobody_ever_waited_for_is_not_begun() {
        let begun = Arc::new(AtomicBool::new(false));
        let note = Arc::clone(&begun);
        drop(Carried::new(
            async move { note.store(true, Ordering::SeqCst) },
        ));
        tokio::task::yield_now().await;
        assert!(!begun.load(Ordering::SeqCst));
    }

    #[tokio::test]
    async fn a_panic_is_told_in_its_words() {
        let panics = Carried::new(async { panic!("no such step") });
        let told: Result<(), String> = panics.await;
        assert_eq!(told, Err("no such step".to_owned()));
    }
}
