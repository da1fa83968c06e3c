#include "core/exchange/mllp.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include <vector>

namespace ferrule::exchange {
namespace {

using ::testing::ElementsAre;

std::vector<std::string> Read(MllpReader& reader, std::string_view bytes) {
  std::vector<std::string> out;
  reader.Feed(bytes, [&](MllpReader::Block block) { out.push_back(std::move(block.bytes)); });
  return out;
}

TEST(Mllp, FramesAsPublished) { EXPECT_EQ(Frame("MSH"), "\x0bMSH\x1c\r"); }

TEST(Mllp, FindsMessagesWhereverTheStreamIsCut) {
  const std::string stream = "junk" + Frame("one\rtwo") + "\n" + Frame("") + Frame("three");
  for (size_t cut = 0; cut <= stream.size(); ++cut) {
    MllpReader reader(100);
    std::vector<std::string> out = Read(reader, std::string_view(stream).substr(0, cut));
    for (std::string& more : Read(reader, std::string_view(stream).substr(cut))) {
      out.push_back(std::move(more));
    }
    EXPECT_THAT(out, ElementsAre("one\rtwo", "", "three")) << cut;
    EXPECT_EQ(reader.skipped_bytes(), 5u);
  }
  MllpReader bytewise(100);
  std::vector<std::string> out;
  for (const char c : stream) {
    for (std::string& more : Read(bytewise, std::string_view(&c, 1))) out.push_back(more);
  }
  EXPECT_THAT(out, ElementsAre("one\rtwo", "", "three"));
}

TEST(Mllp, AnEndSignWithoutReturnBelongsToTheMessage) {
  MllpReader reader(100);
  EXPECT_THAT(Read(reader,
                   "\x0b"
                   "a\x1c"
                   "b\x1c\x1c\r"),
              ElementsAre("a\x1c"
                          "b\x1c"));
}

TEST(Mllp, AStartInsideBeginsAnew) {
  MllpReader reader(100);
  EXPECT_THAT(Read(reader, "\x0bhalf\x0bwhole\x1c\r"), ElementsAre("whole"));
  EXPECT_EQ(reader.unfinished(), 1u);
}

TEST(Mllp, KeepsTheBeginningOfWhatIsTooLarge) {
  MllpReader reader(10'000);
  MllpReader::Block got;
  const std::string large = "MSH|" + std::string(1'000'000, 'x');
  reader.Feed(Frame(large) + Frame("next"), [&](MllpReader::Block block) {
    if (block.bytes != "next") got = std::move(block);
  });
  EXPECT_TRUE(got.too_large);
  EXPECT_EQ(got.size, large.size());
  EXPECT_EQ(got.bytes.size(), MllpReader::kKept);
  EXPECT_EQ(got.bytes, large.substr(0, MllpReader::kKept));
  EXPECT_FALSE(reader.inside());
}

}  // namespace
}  // namespace ferrule::exchange
