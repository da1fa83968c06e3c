// Every kept input of every fuzz target once more, whole, cut short, and with one byte changed: the
// targets' own checks hold. The compiler of the other tests builds it, so that it needs no fuzzer
// and runs under the sanitizers of the debug and tsan presets, too.
#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <unistd.h>

#include <algorithm>
#include <csignal>
#include <cstdint>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "google/protobuf/stubs/logging.h"

// The targets; each file is compiled with its entry renamed to this.
extern "C" {
int FuzzCsv(const uint8_t* data, size_t size);
int FuzzFhir(const uint8_t* data, size_t size);
int FuzzHl7(const uint8_t* data, size_t size);
int FuzzLabel(const uint8_t* data, size_t size);
int FuzzMllp(const uint8_t* data, size_t size);
int FuzzSettings(const uint8_t* data, size_t size);
int FuzzStation(const uint8_t* data, size_t size);
}

namespace {

using Target = int (*)(const uint8_t*, size_t);

// A target that finds something wrong aborts; the input's name is told on the way out.
char running[512];

void TellInput(int signal) {
  const auto written = write(STDERR_FILENO, running, std::strlen(running));
  static_cast<void>(written);
  std::signal(signal, SIG_DFL);
  std::raise(signal);
}

std::string Content(const std::filesystem::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), {}};
}

void RunOn(Target target, const std::string& input, const std::string& name) {
  const std::string line = "\nthe input that failed: " + name + "\n";
  std::strncpy(running, line.c_str(), sizeof(running) - 1);
  // A buffer of just this size, so that the address sanitizer sees a byte read beyond it.
  const std::vector<uint8_t> bytes(input.begin(), input.end());
  EXPECT_EQ(target(bytes.data(), bytes.size()), 0) << name;
}

// Whole, and `changes` times at places spread over the input: cut there, and with that byte's
// lowest, middle and highest bit turned in turn.
void RunAround(Target target, const std::string& input, const std::string& name, size_t changes) {
  RunOn(target, input, name);
  const size_t times = std::min(changes, input.size());
  for (size_t i = 0; i < times; ++i) {
    const size_t at = i * input.size() / times;
    const std::string place = " at byte " + std::to_string(at);
    RunOn(target, input.substr(0, at), name + " cut" + place);
    std::string changed = input;
    constexpr char kBits[] = {1, 16, -128};
    changed[at] = static_cast<char>(changed[at] ^ kBits[i % 3]);
    RunOn(target, changed, name + " changed" + place);
  }
}

void Replay(const std::string& target_name, Target target, size_t changes) {
  std::signal(SIGABRT, TellInput);
  std::vector<std::filesystem::path> inputs;
  for (const auto& entry :
       std::filesystem::directory_iterator(std::filesystem::path(FUZZ_CORPUS) / target_name)) {
    inputs.push_back(entry.path());
  }
  std::sort(inputs.begin(), inputs.end());
  ASSERT_GT(inputs.size(), 3U);
  RunOn(target, "", "nothing");
  for (const auto& path : inputs) {
    RunAround(target, Content(path), path.filename().string(), changes);
  }
}

TEST(FuzzCorpus, Tables) { Replay("csv", FuzzCsv, 12); }
TEST(FuzzCorpus, FhirResources) { Replay("fhir", FuzzFhir, 6); }
TEST(FuzzCorpus, Hl7Messages) { Replay("hl7", FuzzHl7, 6); }
TEST(FuzzCorpus, Labels) { Replay("label", FuzzLabel, 12); }
TEST(FuzzCorpus, Frames) { Replay("mllp", FuzzMllp, 12); }
TEST(FuzzCorpus, LinesOfTheStation) { Replay("station", FuzzStation, 12); }

TEST(FuzzCorpus, Settings) {
  // The library tells of texts that are no UTF-8 on its own; that would be all there is to see.
  google::protobuf::SetLogHandler(nullptr);
  Replay("settings", FuzzSettings, 6);
}

}  // namespace
