cmake_minimum_required(VERSION 3.25)

# Checks every source file: its length, its lines, its owner sentence for what is left to do; every
# room: its README; every source of a room with an own header: its test.
# Called by ctest with -DROOT.
set(lines_max 500)
set(test_lines_max 600)
set(faults "")

file(GLOB_RECURSE files ${ROOT}/client/*.h ${ROOT}/client/*.cc ${ROOT}/server/*.h ${ROOT}/server/*.cc
     ${ROOT}/cli/*.h ${ROOT}/cli/*.cc ${ROOT}/tests/*.h ${ROOT}/tests/*.cc)
foreach(file IN LISTS files)
  file(READ ${file} text)
  string(REGEX MATCHALL "\n" newlines "${text}")
  list(LENGTH newlines lines)
  set(max ${lines_max})
  if(file MATCHES "/tests/")
    set(max ${test_lines_max})
  endif()
  if(lines GREATER max)
    string(APPEND faults "${file}: ${lines} lines, more than ${max}; split it by concept\n")
  endif()
  if(text MATCHES "TODO[^\n]*" AND NOT CMAKE_MATCH_0 MATCHES "TODO\\([a-z]+\\): [A-Z].*\\.")
    string(APPEND faults "${file}: ${CMAKE_MATCH_0}: say who needs it and what blocks it\n")
  endif()
  if(file MATCHES "\\.h$" AND NOT text MATCHES "^#pragma once\n")
    string(APPEND faults "${file}: does not begin with #pragma once\n")
  endif()
endforeach()

file(GLOB rooms LIST_DIRECTORIES true ${ROOT}/client/*)
foreach(room IN LISTS rooms ITEMS ${ROOT}/server ${ROOT}/cli ${ROOT}/proto)
  if(IS_DIRECTORY ${room} AND NOT EXISTS ${room}/README.md)
    string(APPEND faults "${room}: has no README.md\n")
  endif()
endforeach()

if(faults)
  message(FATAL_ERROR "${faults}")
endif()
