# What is installed, and the two Debian packages: ferrule (programs) and ferrule-dev (library).
#   cmake --install build/release --prefix /opt/ferrule [--component runtime|development]
#   cd build/release && cpack -G DEB
include(GNUInstallDirs)
set(FERRULE_HEADERS_FOLDER ${CMAKE_INSTALL_INCLUDEDIR}/ferrule)

install(TARGETS ferrule ferruled RUNTIME COMPONENT runtime)
install(FILES ${PROJECT_SOURCE_DIR}/deploy/ferruled.service DESTINATION lib/systemd/system
        COMPONENT runtime)
install(FILES ${PROJECT_SOURCE_DIR}/deploy/runbook.md ${PROJECT_SOURCE_DIR}/deploy/faults.md
              ${PROJECT_SOURCE_DIR}/deploy/nghttpx.conf ${PROJECT_SOURCE_DIR}/deploy/ferruled.default
              ${PROJECT_SOURCE_DIR}/README.md
        DESTINATION ${CMAKE_INSTALL_DOCDIR} COMPONENT runtime)
install(FILES ${PROJECT_SOURCE_DIR}/LICENSE DESTINATION ${CMAKE_INSTALL_DOCDIR} RENAME copyright
        COMPONENT runtime)
install(FILES ${PROJECT_SOURCE_DIR}/deploy/postgres-roles.sql
        DESTINATION ${CMAKE_INSTALL_DATADIR}/ferrule COMPONENT runtime)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/proto DESTINATION ${CMAKE_INSTALL_DATADIR}/ferrule
        COMPONENT runtime FILES_MATCHING PATTERN "*.proto")
# Man page and completion are the program's own words.
install(CODE "
  if(NOT CMAKE_INSTALL_COMPONENT OR CMAKE_INSTALL_COMPONENT STREQUAL runtime)
    set(root \"\$ENV{DESTDIR}\${CMAKE_INSTALL_PREFIX}\")
    file(MAKE_DIRECTORY \"\${root}/${CMAKE_INSTALL_MANDIR}/man1\"
                        \"\${root}/share/bash-completion/completions\")
    foreach(pair \"man|${CMAKE_INSTALL_MANDIR}/man1/ferrule.1\"
                 \"completion bash|share/bash-completion/completions/ferrule\")
      string(REPLACE \"|\" \";\" pair \"\${pair}\")
      list(GET pair 0 words)
      list(GET pair 1 file)
      string(REPLACE \" \" \";\" words \"\${words}\")
      execute_process(COMMAND \"$<TARGET_FILE:ferrule>\" \${words}
                      OUTPUT_FILE \"\${root}/\${file}\" COMMAND_ERROR_IS_FATAL ANY)
    endforeach()
  endif()
" COMPONENT runtime)

# The library: one archive a room, all of them in one set of targets.
get_property(FERRULE_LIBRARIES GLOBAL PROPERTY FERRULE_LIBRARIES)
install(TARGETS ${FERRULE_LIBRARIES} ferrule_proto ferrule_proto_grpc ferrule_options
        EXPORT ferrule ARCHIVE DESTINATION ${CMAKE_INSTALL_LIBDIR}/ferrule COMPONENT development)
install(EXPORT ferrule NAMESPACE ferrule:: FILE targets.cmake
        DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/ferrule COMPONENT development)
install(DIRECTORY ${PROJECT_SOURCE_DIR}/core ${PROJECT_SOURCE_DIR}/service
        DESTINATION ${FERRULE_HEADERS_FOLDER} COMPONENT development FILES_MATCHING PATTERN "*.h")
install(DIRECTORY ${PROJECT_BINARY_DIR}/proto/gen/ DESTINATION ${FERRULE_HEADERS_FOLDER}
        COMPONENT development FILES_MATCHING PATTERN "*.pb.h")
include(CMakePackageConfigHelpers)
write_basic_package_version_file(${PROJECT_BINARY_DIR}/ferrule-config-version.cmake
                                 COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_SOURCE_DIR}/deploy/ferrule-config.cmake
              ${PROJECT_BINARY_DIR}/ferrule-config-version.cmake
        DESTINATION ${CMAKE_INSTALL_LIBDIR}/cmake/ferrule COMPONENT development)

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME ferrule)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "the maintainers of Ferrule <maintainers@ferrule.invalid>")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_COMPONENTS_ALL runtime development)
set(CPACK_COMPONENTS_GROUPING IGNORE)
set(CPACK_DEB_COMPONENT_INSTALL ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_RUNTIME_PACKAGE_NAME ferrule)
set(CPACK_DEBIAN_RUNTIME_PACKAGE_SECTION database)
set(CPACK_DEBIAN_RUNTIME_PACKAGE_SHLIBDEPS ON)
# The last two are loaded at need, which the search for shared libraries does not see.
set(CPACK_DEBIAN_RUNTIME_PACKAGE_DEPENDS "tzdata, libpq5, libzint2.11")
set(CPACK_COMPONENT_RUNTIME_DESCRIPTION
    "records and calculations of a depot that lends home-therapy equipment
A ledger of facts about units, orders and goods, the answers computed
from them, a gRPC server and a command line, on a SQLite file or on
PostgreSQL.")
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_NAME ferrule-dev)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_SECTION libdevel)
set(CPACK_DEBIAN_DEVELOPMENT_PACKAGE_DEPENDS
    "libgrpc++-dev, libprotobuf-dev, libabsl-dev, libsqlitecpp-dev, libsqlite3-dev, libpq5, libssl-dev, nlohmann-json3-dev, libboost-dev")
set(CPACK_COMPONENT_DEVELOPMENT_DESCRIPTION
    "library of Ferrule, for building programs
Headers, static libraries and CMake targets.")
include(CPack)
