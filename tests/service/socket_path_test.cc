#include "service/socket_path.h"

#include <gtest/gtest.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include <cstdlib>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <string>

namespace ferrule::service {
namespace {

class SocketPath : public ::testing::Test {
 protected:
  SocketPath() {
    std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
    folder_ = std::filesystem::canonical(::mkdtemp(pattern.data())).string();
  }
  ~SocketPath() override { std::filesystem::remove_all(folder_); }
  std::string folder_;
};

TEST_F(SocketPath, StandsBesideTheFile) {
  EXPECT_EQ(*SocketPathFor(folder_ + "/depot.ferrule"), folder_ + "/depot.ferrule.sock");
}

TEST_F(SocketPath, EveryWayToTheFileGivesOneSocket) {
  std::filesystem::create_directory(folder_ + "/a");
  std::filesystem::create_directory_symlink(folder_ + "/a", folder_ + "/link");
  std::ofstream(folder_ + "/a/depot").put('x');
  std::filesystem::create_symlink(folder_ + "/a/depot", folder_ + "/other");
  const std::string direct = *SocketPathFor(folder_ + "/a/depot");
  EXPECT_EQ(*SocketPathFor(folder_ + "/link/depot"), direct);
  EXPECT_EQ(*SocketPathFor(folder_ + "/a/../a/depot"), direct);
  EXPECT_EQ(*SocketPathFor(folder_ + "/other"), direct);
}

TEST_F(SocketPath, LongNameGetsAShortSocketThatIsAlwaysTheSame) {
  const std::string deep = folder_ + "/" + std::string(120, 'd');
  std::filesystem::create_directory(deep);
  const std::string first = *SocketPathFor(deep + "/depot");
  EXPECT_LT(first.size(), sizeof(sockaddr_un{}.sun_path));
  EXPECT_EQ(*SocketPathFor(deep + "/depot"), first);
  EXPECT_NE(*SocketPathFor(deep + "/other"), first);
}

TEST_F(SocketPath, MissingFolderIsNotFound) {
  EXPECT_EQ(SocketPathFor(folder_ + "/none/depot").status().code(), absl::StatusCode::kNotFound);
}

TEST_F(SocketPath, OnlyASocketOfTheOwnerIsTrusted) {
  const std::string depot = folder_ + "/depot";
  std::ofstream(depot).put('x');
  EXPECT_FALSE(SocketIsTrusted(folder_ + "/none", depot));
  EXPECT_FALSE(SocketIsTrusted(depot, depot));  // a plain file
  sockaddr_un address{};
  address.sun_family = AF_UNIX;
  std::strncpy(address.sun_path, (folder_ + "/s").c_str(), sizeof(address.sun_path) - 1);
  const int fd = ::socket(AF_UNIX, SOCK_STREAM, 0);
  ASSERT_EQ(::bind(fd, reinterpret_cast<sockaddr*>(&address), sizeof(address)), 0);
  EXPECT_TRUE(SocketIsTrusted(folder_ + "/s", depot));
  std::filesystem::create_symlink(folder_ + "/s", folder_ + "/link");
  EXPECT_FALSE(SocketIsTrusted(folder_ + "/link", depot));
  ::close(fd);
}

}  // namespace
}  // namespace ferrule::service
