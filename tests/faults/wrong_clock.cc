// A library to be loaded before a program's own: its date is off by FERRULE_CLOCK_OFFSET_S seconds,
// while time that is measured goes on as ever. It asks the kernel itself, so that an allocator that
// asks for the time while it starts does no harm.
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

#include <cstdlib>

namespace {

// A number without any help of a library that may not be ready yet.
time_t Offset() {
  const char* text = getenv("FERRULE_CLOCK_OFFSET_S");
  if (text == nullptr) return 0;
  const bool back = *text == '-';
  if (back) ++text;
  time_t offset = 0;
  for (; *text >= '0' && *text <= '9'; ++text) offset = offset * 10 + (*text - '0');
  return back ? -offset : offset;
}

}  // namespace

extern "C" {

int clock_gettime(clockid_t clock, timespec* now) noexcept {
  const long result = syscall(SYS_clock_gettime, clock, now);
  if (result == 0 && (clock == CLOCK_REALTIME || clock == CLOCK_REALTIME_COARSE)) {
    now->tv_sec += Offset();
  }
  return static_cast<int>(result);
}

int gettimeofday(timeval* now, void*) noexcept {
  timespec exact{};
  const int result = clock_gettime(CLOCK_REALTIME, &exact);
  now->tv_sec = exact.tv_sec;
  now->tv_usec = exact.tv_nsec / 1'000;
  return result;
}

time_t time(time_t* out) noexcept {
  timespec exact{};
  clock_gettime(CLOCK_REALTIME, &exact);
  if (out != nullptr) *out = exact.tv_sec;
  return exact.tv_sec;
}
}
