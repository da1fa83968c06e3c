// Particulars of patients, and the log of who read what about them.
#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "absl/status/status.h"
#include "absl/status/statusor.h"
#include "core/ledger/ledger.h"
#include "ferrule/v1/access_service.pb.h"

namespace ferrule::guard {

// One read to be kept; never what it gave.
struct Read {
  int64_t read_us = 0;
  std::string principal;  // empty for the owner of the depot's file
  std::string method;
  std::string resource;
  std::string because;
};

// Thread-safe. Every function that writes waits for the commit, save NoteLater.
class Patients {
 public:
  explicit Patients(ledger::Ledger* ledger) : ledger_(*ledger) {}

  // Keeps a read.
  absl::Status Note(const Read& read);
  // The same without waiting: it is written with the next group.
  void NoteLater(const Read& read);
  // Reads after a number, oldest first; of one principal and of one resource, or of all.
  absl::StatusOr<std::vector<v1::ReadRecord>> Reads(int64_t after, const std::string& principal,
                                                    const std::string& resource, int size);

  // Keeps particulars, in place of earlier ones; true when there were some.
  absl::StatusOr<bool> Put(const v1::PatientParticulars& particulars, const Read& read);
  // Gives particulars once the read is kept. NotFound when there are none.
  absl::StatusOr<v1::PatientParticulars> Get(const std::string& reference, const Read& read);
  // Erases particulars and keeps that they were; NotFound when there are none.
  absl::Status Erase(const std::string& reference, const Read& read);

 private:
  absl::StatusOr<std::string> Find(const std::string& reference);

  ledger::Ledger& ledger_;
};

}  // namespace ferrule::guard
