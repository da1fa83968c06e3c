#include "core/late/library.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <cmath>

namespace ferrule::late {
namespace {

using ::testing::HasSubstr;

TEST(Library, CallsAFunctionOfTheMachinesLibrary) {
  const absl::StatusOr<Library> math = Library::Open("libm.so.6", "libc6");
  ASSERT_TRUE(math.ok()) << math.status();
  double (*cube_root)(double) = nullptr;
  ASSERT_TRUE(math->Find("cbrt", &cube_root).ok());
  EXPECT_DOUBLE_EQ(cube_root(27.0), 3.0);
}

TEST(Library, SaysWhatToInstallWhenItIsNotThere) {
  const absl::StatusOr<Library> none = Library::Open("libferrule-none.so.1", "libferrule-none1");
  EXPECT_EQ(none.status().code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(none.status().message(), HasSubstr("libferrule-none.so.1 cannot be loaded"));
  EXPECT_THAT(none.status().message(), HasSubstr("Install the package libferrule-none1"));
}

TEST(Library, NamesTheFunctionThatAnOlderLibraryLacks) {
  const absl::StatusOr<Library> math = Library::Open("libm.so.6", "libc6");
  ASSERT_TRUE(math.ok()) << math.status();
  void (*none)() = nullptr;
  const absl::Status status = math->Find("no_such_function", &none);
  EXPECT_EQ(status.code(), absl::StatusCode::kFailedPrecondition);
  EXPECT_THAT(status.message(), HasSubstr("no_such_function"));
  EXPECT_EQ(none, nullptr);
}

}  // namespace
}  // namespace ferrule::late
