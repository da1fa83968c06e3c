// libpq's functions, taken from the machine's library when a depot on PostgreSQL is first opened.
// Inside core/store only.
#pragma once

#include <libpq-fe.h>

#include "absl/status/status.h"

// Every function of libpq that core/store calls.
#define FERRULE_LIBPQ_FUNCTIONS(X) \
  X(PQcancel)                      \
  X(PQclear)                       \
  X(PQcmdStatus)                   \
  X(PQconnectdbParams)             \
  X(PQconninfoFree)                \
  X(PQconninfoParse)               \
  X(PQconsumeInput)                \
  X(PQenterPipelineMode)           \
  X(PQerrorMessage)                \
  X(PQexec)                        \
  X(PQexitPipelineMode)            \
  X(PQfinish)                      \
  X(PQflush)                       \
  X(PQfreeCancel)                  \
  X(PQfreemem)                     \
  X(PQftype)                       \
  X(PQgetCancel)                   \
  X(PQgetResult)                   \
  X(PQgetisnull)                   \
  X(PQgetlength)                   \
  X(PQgetvalue)                    \
  X(PQnfields)                     \
  X(PQnparams)                     \
  X(PQntuples)                     \
  X(PQparameterStatus)             \
  X(PQparamtype)                   \
  X(PQpipelineSync)                \
  X(PQresultErrorField)            \
  X(PQresultErrorMessage)          \
  X(PQresultStatus)                \
  X(PQsendDescribePrepared)        \
  X(PQsendPrepare)                 \
  X(PQsendQueryParams)             \
  X(PQsendQueryPrepared)           \
  X(PQserverVersion)               \
  X(PQsetNoticeProcessor)          \
  X(PQsetSingleRowMode)            \
  X(PQsetnonblocking)              \
  X(PQsocket)                      \
  X(PQstatus)

namespace ferrule::store {

struct Libpq {
#define FERRULE_LIBPQ_MEMBER(name) decltype(&::name) name = nullptr;
  FERRULE_LIBPQ_FUNCTIONS(FERRULE_LIBPQ_MEMBER)
#undef FERRULE_LIBPQ_MEMBER
};

// Null pointers until LoadLibpq has answered OK, which opening a database on PostgreSQL does first.
extern Libpq libpq;

// Loads it once; from any thread. FailedPrecondition, saying what to install, when it is not there.
absl::Status LoadLibpq();

}  // namespace ferrule::store
