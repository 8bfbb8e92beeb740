cmake_minimum_required(VERSION 3.25)

# Checks that every source file is as clang-format would write it. Called by ctest with -DROOT and
# -DCLANG_FORMAT.
file(GLOB_RECURSE files ${ROOT}/client/*.h ${ROOT}/client/*.cc ${ROOT}/server/*.h ${ROOT}/server/*.cc
     ${ROOT}/cli/*.h ${ROOT}/cli/*.cc ${ROOT}/tests/*.h ${ROOT}/tests/*.cc)
execute_process(COMMAND ${CLANG_FORMAT} --dry-run --Werror ${files}
                WORKING_DIRECTORY ${ROOT} RESULT_VARIABLE result ERROR_VARIABLE said)
if(NOT result EQUAL 0)
  string(SUBSTRING "${said}" 0 2000 said)
  message(FATAL_ERROR "not as clang-format writes it:\n${said}")
endif()
