using SawEdge.Gateway.Acquisition.Sparkplug;

namespace SawEdge.Gateway.Tests.Acquisition.Sparkplug;

/// <summary>Topics, by the clauses of the Sparkplug 3.0 specification, chapter 4 (GitHub eclipse-sparkplug/sparkplug@e45b610).</summary>
public sealed class SparkplugTopicTests
{
    [Theory]
    [InlineData("spBv1.0/Riverbend/NBIRTH/hall-2", SparkplugMessage.NBirth, "")]
    [InlineData("spBv1.0/Riverbend/NDATA/hall-2", SparkplugMessage.NData, "")]
    [InlineData("spBv1.0/Riverbend/NDEATH/hall-2", SparkplugMessage.NDeath, "")]
    [InlineData("spBv1.0/Riverbend/DBIRTH/hall-2/saw 4", SparkplugMessage.DBirth, "saw 4")]
    [InlineData("spBv1.0/Riverbend/DDATA/hall-2/saw 4", SparkplugMessage.DData, "saw 4")]
    [InlineData("spBv1.0/Riverbend/DDEATH/hall-2/saw 4", SparkplugMessage.DDeath, "saw 4")]
    public void TryParse_TopicsOfANode_AreTakenApart(string topic, object expected, string expectedDevice)
    {
        // tck-id-topic-structure: namespace/group_id/message_type/edge_node_id/[device_id]
        Assert.True(SparkplugTopic.TryParse(topic, out var message, out var group, out var node, out var device));
        Assert.Equal(expected, message);
        Assert.Equal("Riverbend", group.ToString());
        Assert.Equal("hall-2", node.ToString());
        Assert.Equal(expectedDevice, device.ToString());
    }

    [Theory]
    [InlineData("spAv1.0/Riverbend/NBIRTH/hall-2")] // tck-id-topic-structure-namespace-a
    [InlineData("spbv1.0/Riverbend/NBIRTH/hall-2")]
    [InlineData("spBv1.0/Riverbend/DDATA/hall-2")] // ...-device-id-associated-message-types: required
    [InlineData("spBv1.0/Riverbend/DBIRTH/hall-2")]
    [InlineData("spBv1.0/Riverbend/DDEATH/hall-2/")]
    [InlineData("spBv1.0/Riverbend/NBIRTH/hall-2/saw-4")] // ...-device-id-non-associated-message-types: forbidden
    [InlineData("spBv1.0/Riverbend/NDATA/hall-2/saw-4")]
    [InlineData("spBv1.0/Riverbend/NDEATH/hall-2/")]
    [InlineData("spBv1.0/Riverbend/DDATA/hall-2/saw-4/more")]
    [InlineData("spBv1.0/Riverbend/NCMD/hall-2")] // what others tell a node is none of our business
    [InlineData("spBv1.0/Riverbend/DCMD/hall-2/saw-4")]
    [InlineData("spBv1.0/STATE/sawedge")]
    [InlineData("spBv1.0/Riverbend/NBIRTH/")]
    [InlineData("spBv1.0//NBIRTH/hall-2")]
    [InlineData("spBv1.0/Riverbend/nbirth/hall-2")]
    [InlineData("spBv1.0")]
    [InlineData("")]
    public void TryParse_OtherTopics_AreNone(string topic) => Assert.False(SparkplugTopic.TryParse(topic, out _, out _, out _, out _));

    [Fact]
    public void FiltersOf_ANode_AreItsOwnMessagesAndThoseOfAllItsDevicesAndNoCommands() => Assert.Equal(
        ["spBv1.0/Riverbend/NBIRTH/hall-2", "spBv1.0/Riverbend/NDATA/hall-2", "spBv1.0/Riverbend/NDEATH/hall-2", "spBv1.0/Riverbend/DBIRTH/hall-2/+", "spBv1.0/Riverbend/DDATA/hall-2/+", "spBv1.0/Riverbend/DDEATH/hall-2/+"],
        SparkplugTopic.FiltersOf("Riverbend", "hall-2"));
}
