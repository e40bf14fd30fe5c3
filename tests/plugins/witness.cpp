// Passes audio and writes down what the host does with it: tests compare what we report with what happened.
// A line for each event goes to the file named by the variable SWEEPER_WITNESS: `pid instance event frames`.
//   instantiate 0 | activate 0 | run FRAMES (each call) | deactivate, destruct FRAMES (since last activate)
// Each line is a single write: the sum of the `run` lines is exact even when the process is killed after it.
#include "probe.hpp"

#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <fcntl.h>
#include <unistd.h>

START_NAMESPACE_DISTRHO

class Witness : public Probe {
public:
    Witness() : Probe({ { "Amount", "amount", "", 0.0f, 0.0f, 10.0f } })
    {
        // The clock, not a counter, which would start again when the host unloads the library and reloads it.
        timespec now;
        clock_gettime(CLOCK_MONOTONIC, &now);
        instance = 1000000000LL * now.tv_sec + now.tv_nsec;
        const char* path = std::getenv("SWEEPER_WITNESS");
        if (path != nullptr && !isDummyInstance())  // the dummy only tells the framework the plugin's name
            file = open(path, O_WRONLY | O_CREAT | O_APPEND | O_CLOEXEC, 0644);
        write_down("instantiate", 0);
    }

    ~Witness() override
    {
        write_down("destruct", frames_since_activate);
        if (file >= 0)
            close(file);
    }

protected:
    void activate() override
    {
        frames_since_activate = 0;
        write_down("activate", 0);
    }

    void deactivate() override { write_down("deactivate", frames_since_activate); }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        pass(inputs, outputs, frames);
        frames_since_activate += frames;
        write_down("run", frames);
    }

private:
    void write_down(const char* event, long long frames) const
    {
        if (file < 0)
            return;
        char line[96];
        const int length = std::snprintf(line, sizeof line, "%ld %lld %s %lld\n",
                                         static_cast<long>(getpid()), instance, event, frames);
        if (write(file, line, static_cast<std::size_t>(length)) != length)
            std::abort();  // a witness that loses a line must not be believed
    }

    int file = -1;
    long long instance = 0;
    long long frames_since_activate = 0;
};

END_NAMESPACE_DISTRHO
PROBE_IS(Witness)
