// Passes audio at "Drive" dB, and does one thing wrong (FAULT) with the states it is given.
//   halves   takes half of what a state has for "Drive"
//   ignores  leaves every setting where it is
//   loses    takes "Drive" only, never "Tone"
//   meters   takes all, and keeps a count of the blocks it ran in its states, as plugins with meters do
// A state sets every setting, also one that stands already where the state has it; a host's turn of a knob does not.
// So "Program", which hosts leave alone, tells that a state is being taken, until the next block.
#include "probe.hpp"

START_NAMESPACE_DISTRHO

enum class Fault { halves, ignores, loses, meters };
constexpr Fault fault = Fault::FAULT;

class StateWrong : public Probe {
public:
    StateWrong() : Probe({
        { "Program", "program", "", 0.0f, 0.0f, 1.0f },
        { "Drive", "drive", "dB", 0.0f, -12.0f, 12.0f },
        { "Tone", "tone", "", 5.0f, 0.0f, 10.0f },
        { "Blocks", "blocks", "", 0.0f, 0.0f, 1000000.0f },
    }) {}

protected:
    void setParameterValue(uint32_t index, float value) override
    {
        if (index == 0) {
            taking_a_state = value == values[0];
            return;
        }
        if (index == 3)
            return;
        if (taking_a_state && wrong(index)) {
            const float kept = fault == Fault::halves ? value / 2.0f : values[index];
            Probe::setParameterValue(index, kept);
            requestParameterValueChange(index, kept);
            return;
        }
        Probe::setParameterValue(index, value);
    }

    void run(const float** inputs, float** outputs, uint32_t frames) override
    {
        taking_a_state = false;
        if (fault == Fault::meters) {
            values[3] = std::fmod(values[3] + 7.0f, 1000000.0f);
            requestParameterValueChange(3, values[3]);
        }
        pass(inputs, outputs, frames, amplitude(values[1]));
    }

private:
    static bool wrong(uint32_t index)
    {
        switch (fault) {
        case Fault::halves: return index == 1;
        case Fault::ignores: return true;
        case Fault::loses: return index == 2;
        default: return false;
        }
    }

    bool taking_a_state = false;
};

END_NAMESPACE_DISTRHO
PROBE_IS(StateWrong)
