using SawEdge.Core.Alarms;

namespace SawEdge.Core.Tests.Alarms;

/// <summary>
/// The table of all transitions. States and letters after the alarm state transition diagram of ANSI/ISA-18.2 (IEC 62682), from memory; that
/// active, acknowledged, shelved, suppressed and out of service are independent of each other: OPC 10000-9.
/// </summary>
public class AlarmLifeTests
{
    /// <summary>
    /// One row a state: letter, then what holds underneath (x exists, a active, k acknowledged, l latched, s shelved, d suppressed by
    /// design, o out of service). One column an input, in the order of <see cref="AlarmInput"/>: the state afterwards, written the same
    /// way, <c>-</c> where nothing happens, <c>!</c> where it is refused.
    /// </summary>
    private const string Table = """
        state    | Come     | Go(not latched) | Go(latched) | Acknowledge | Reset | Shelve  | Unshelve | TakeOut  | Return  | Suppress | Unsuppress
        A        | B xa     | -               | -           | !           | !     | G s     | !        | I o      | !       | -        | -
        B xa     | -        | D x             | E xl        | C xak       | !     | G xas   | !        | I xao    | !       | -        | -
        C xak    | -        | A               | F xkl       | !           | !     | G xaks  | !        | I xako   | !       | -        | -
        D x      | B xa     | -               | -           | A           | !     | G s     | !        | I o      | !       | -        | -
        E xl     | B xa     | -               | -           | F xkl       | !     | !       | !        | !        | !       | -        | -
        F xkl    | B xa     | -               | -           | !           | A     | !       | !        | !        | !       | -        | -
        G s      | G xas    | -               | -           | !           | !     | G s     | A        | I so     | !       | -        | -
        G xas    | -        | G s             | G s         | G xaks      | !     | G xas   | B xa     | I xaso   | !       | H xasd   | -
        G xaks   | -        | G s             | G s         | !           | !     | G xaks  | C xak    | I xakso  | !       | H xaksd  | -
        H xad    | -        | A               | A           | H xakd      | !     | H xasd  | !        | I xao    | !       | -        | B xa
        H xakd   | -        | A               | A           | !           | !     | H xaksd | !        | I xako   | !       | -        | C xak
        H xasd   | -        | G s             | G s         | H xaksd     | !     | H xasd  | B xa     | I xaso   | !       | -        | G xas
        H xaksd  | -        | G s             | G s         | !           | !     | H xaksd | C xak    | I xakso  | !       | -        | G xaks
        I o      | I xao    | -               | -           | !           | !     | !       | !        | !        | A       | -        | -
        I xao    | -        | I o             | I o         | I xako      | !     | !       | !        | !        | B xa    | -        | -
        I xako   | -        | I o             | I o         | !           | !     | !       | !        | !        | C xak   | -        | -
        I so     | I xaso   | -               | -           | !           | !     | !       | I o      | !        | G s     | -        | -
        I xaso   | -        | I so            | I so        | I xakso     | !     | !       | I xao    | !        | G xas   | -        | -
        I xakso  | -        | I so            | I so        | !           | !     | !       | I xako   | !        | G xaks  | -        | -
        """;

    private static readonly string[][] Rows = [.. Table.Split('\n').Select(line => line.Split('|').Select(cell => cell.Trim()).ToArray())];

    private static readonly (AlarmInput Input, bool Latch)[] Columns =
    [
        (AlarmInput.Come, false), (AlarmInput.Go, false), (AlarmInput.Go, true), (AlarmInput.Acknowledge, false), (AlarmInput.Reset, false), (AlarmInput.Shelve, false),
        (AlarmInput.Unshelve, false), (AlarmInput.TakeOutOfService, false), (AlarmInput.ReturnToService, false), (AlarmInput.Suppress, false), (AlarmInput.Unsuppress, false),
    ];

    private static readonly Dictionary<AlarmInput, AlarmEventKind> Kinds = new()
    {
        [AlarmInput.Come] = AlarmEventKind.Raised,
        [AlarmInput.Go] = AlarmEventKind.Cleared,
        [AlarmInput.Acknowledge] = AlarmEventKind.Acknowledged,
        [AlarmInput.Reset] = AlarmEventKind.Reset,
        [AlarmInput.Shelve] = AlarmEventKind.Shelved,
        [AlarmInput.Unshelve] = AlarmEventKind.Unshelved,
        [AlarmInput.TakeOutOfService] = AlarmEventKind.TakenOutOfService,
        [AlarmInput.ReturnToService] = AlarmEventKind.ReturnedToService,
        [AlarmInput.Suppress] = AlarmEventKind.Suppressed,
        [AlarmInput.Unsuppress] = AlarmEventKind.Unsuppressed,
    };

    public static TheoryData<string> States => [.. Rows.Skip(1).Select(row => row[0])];

    [Theory]
    [MemberData(nameof(States))]
    public void Step_EveryInput_AsTheTableSays(string state)
    {
        var row = Rows.Single(cells => cells[0] == state);
        var life = Read(state);
        for (var column = 0; column < Columns.Length; column++)
        {
            var (input, latch) = Columns[column];
            var cell = row[column + 1];

            var step = life.Step(input, latch);

            var expected = cell is "-" or "!" ? life : Read(cell);
            Assert.True(step.Next == expected, $"{state}, {input}: expected {cell}, got {step.Next}");
            Assert.Equal(cell is "-" or "!" ? null : Kinds[input], step.Kind);
            Assert.Equal(cell == "!", step.Refusal is not null);
        }
    }

    [Theory]
    [MemberData(nameof(States))]
    public void Step_LatchedRule_OnlyGoingIsDifferent(string state)
    {
        var life = Read(state);
        foreach (var (input, _) in Columns.Where(column => column.Input != AlarmInput.Go))
            Assert.Equal(life.Step(input), life.Step(input, latch: true));
    }

    [Theory]
    [MemberData(nameof(States))]
    public void Step_UnderSuppression_OnlyWhatIsNotAnnouncedIsSuppressed(string state)
    {
        var life = Read(state);
        foreach (var (input, latch) in Columns)
        {
            var free = life.Step(input, latch);
            var isSuppressed = input switch
            {
                AlarmInput.Come => !life.Exists && !life.OutOfService,
                AlarmInput.Unshelve => life is { Shelved: true, Active: true, OutOfService: false },
                AlarmInput.ReturnToService => life is { OutOfService: true, Active: true },
                _ => false,
            };

            var step = life.Step(input, latch, suppress: true);

            Assert.Equal(free with { Next = free.Next with { Suppressed = isSuppressed || free.Next.Suppressed } }, step);
        }
    }

    [Fact]
    public void Step_FromNormalByAnyInputs_ReachesTheTableAndNothingElse()
    {
        var seen = new HashSet<AlarmLife> { default };
        var open = new Queue<AlarmLife>(seen);
        while (open.TryDequeue(out var life))
        {
            foreach (var next in from input in Enum.GetValues<AlarmInput>() from latch in new[] { false, true } from suppress in new[] { false, true } select life.Step(input, latch, suppress).Next)
            {
                if (seen.Add(next))
                    open.Enqueue(next);
            }
        }

        Assert.Equal(Rows.Skip(1).Select(row => Read(row[0])).ToHashSet(), seen);
        Assert.Equal("ABCDEFGHI", string.Concat(seen.Select(life => life.State.ToLetter()).Distinct().Order()));
    }

    private static AlarmLife Read(string words)
    {
        var flags = words[1..];
        var life = new AlarmLife
        {
            Exists = flags.Contains('x'),
            Active = flags.Contains('a'),
            Acknowledged = flags.Contains('k'),
            Latched = flags.Contains('l'),
            Shelved = flags.Contains('s'),
            Suppressed = flags.Contains('d'),
            OutOfService = flags.Contains('o'),
        };
        Assert.Equal(words[0], life.State.ToLetter());
        return life;
    }
}
