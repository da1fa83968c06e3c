#include "service/tls.h"

#include <sys/stat.h>

#include "absl/strings/match.h"
#include "absl/strings/str_cat.h"
#include "openssl/bio.h"
#include "openssl/pem.h"
#include "openssl/x509.h"
#include "service/file_work.h"

namespace ferrule::service {
namespace {

template <class T, void (*Free)(T*)>
struct Freer {
  void operator()(T* one) const { Free(one); }
};
using Certificate = std::unique_ptr<X509, Freer<X509, X509_free>>;
using Key = std::unique_ptr<EVP_PKEY, Freer<EVP_PKEY, EVP_PKEY_free>>;

std::unique_ptr<BIO, int (*)(BIO*)> Over(const std::string& pem) {
  return {BIO_new_mem_buf(pem.data(), static_cast<int>(pem.size())), BIO_free};
}

absl::StatusOr<std::string> ReadPem(const char* flag, const std::string& path) {
  if (path.empty()) {
    return absl::InvalidArgumentError(
        absl::StrCat(flag, " is missing; TLS needs --tls-certificate and --tls-key"));
  }
  auto pem = ReadSmallFile(path);
  if (pem.ok() && absl::StrContains(*pem, "-----BEGIN")) return pem;
  return absl::InvalidArgumentError(absl::StrCat(flag, " ", path,
                                                 pem.ok() ? " is no PEM file" : " cannot be read",
                                                 "; check the name and who may read it"));
}

absl::Status CheckPair(const TlsFiles& files, const std::string& certificate,
                       const std::string& key) {
  const Certificate own(PEM_read_bio_X509(Over(certificate).get(), nullptr, nullptr, nullptr));
  const Key secret(PEM_read_bio_PrivateKey(Over(key).get(), nullptr, nullptr, nullptr));
  if (own == nullptr || secret == nullptr) {
    return absl::InvalidArgumentError(absl::StrCat(
        own == nullptr ? files.certificate : files.key,
        own == nullptr ? " holds no certificate" : " holds no key without a password"));
  }
  if (X509_check_private_key(own.get(), secret.get()) != 1) {
    return absl::InvalidArgumentError(
        absl::StrCat(files.key, " is not the key of the certificate in ", files.certificate));
  }
  if (X509_cmp_current_time(X509_get0_notAfter(own.get())) < 0) {
    return absl::InvalidArgumentError(
        absl::StrCat("the certificate in ", files.certificate, " has ended; renew it"));
  }
  return absl::OkStatus();
}

absl::Status CheckPrivate(const std::string& path) {
  struct stat info = {};
  if (stat(path.c_str(), &info) == 0 && (info.st_mode & (S_IRWXO | S_IWGRP)) == 0) {
    return absl::OkStatus();
  }
  return absl::InvalidArgumentError(
      absl::StrCat("others may read the key ", path, "; run: chmod 600 ", path));
}

}  // namespace

absl::StatusOr<std::shared_ptr<grpc::ServerCredentials>> ServerCredentialsOf(
    const TlsFiles& files) {
  const auto certificate = ReadPem("--tls-certificate", files.certificate);
  if (!certificate.ok()) return certificate.status();
  const auto key = ReadPem("--tls-key", files.key);
  if (!key.ok()) return key.status();
  if (absl::Status secret = CheckPrivate(files.key); !secret.ok()) return secret;
  if (absl::Status fits = CheckPair(files, *certificate, *key); !fits.ok()) return fits;
  grpc::SslServerCredentialsOptions options(GRPC_SSL_DONT_REQUEST_CLIENT_CERTIFICATE);
  options.pem_key_cert_pairs.push_back({*key, *certificate});
  if (!files.client_ca.empty()) {
    const auto ca = ReadPem("--tls-client-ca", files.client_ca);
    if (!ca.ok()) return ca.status();
    options.pem_root_certs = *ca;
    options.client_certificate_request = GRPC_SSL_REQUEST_AND_REQUIRE_CLIENT_CERTIFICATE_AND_VERIFY;
  }
  return grpc::SslServerCredentials(options);
}

}  // namespace ferrule::service
